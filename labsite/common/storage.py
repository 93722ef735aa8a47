"""Where files are kept: collected static files with a hash in their names."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class StaticFiles(CompressedManifestStaticFilesStorage):
    """Hashed and compressed names once the files are collected, plain names before.

    Serving commands and images collect first, so browsers may keep each file for ever. Tests and
    ``runserver`` go without that step and serve the sources under their own names.
    """

    support_js_module_import_aggregation = True

    def stored_name(self, name):
        """The hashed name, or the name itself where nothing has been collected."""
        return super().stored_name(name) if self.hashed_files else name
