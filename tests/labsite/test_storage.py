"""Static files have plain names until they are collected, and names of their content afterwards."""

import pytest

from labsite.common.storage import StaticFiles


@pytest.fixture
def storage(tmp_path):
    """An empty folder for collected files."""
    return StaticFiles(location=tmp_path, base_url="/static/")


def test_nothing_collected_means_plain_names(storage):
    assert storage.url("js/page.js") == "/static/js/page.js"


def test_collected_files_are_hashed_compressed_and_import_each_other_by_hash(storage, tmp_path):
    (tmp_path / "js").mkdir()
    (tmp_path / "js" / "plot.js").write_text("export const curve = 'a curve';\n" * 50)
    (tmp_path / "js" / "page.js").write_text('import { curve } from "./plot.js";\nconsole.log(curve);\n')
    paths = {name: (storage, name) for name in ("js/plot.js", "js/page.js")}
    processed = {name: hashed for name, hashed, _ in storage.post_process(paths)}
    page, plot = storage.stored_name("js/page.js"), storage.stored_name("js/plot.js")
    assert processed["js/page.js"] == page != "js/page.js"
    assert storage.url("js/page.js") == f"/static/{page}"
    assert f'from "./{plot.removeprefix("js/")}"' in (tmp_path / page).read_text()
    assert (tmp_path / f"{plot}.gz").stat().st_size < (tmp_path / plot).stat().st_size / 5


def test_once_collected_a_missing_file_is_an_error_not_a_broken_link(storage, tmp_path):
    (tmp_path / "a.css").write_text("p { color: black }\n")
    list(storage.post_process({"a.css": (storage, "a.css")}))
    with pytest.raises(ValueError, match=r"Missing staticfiles manifest entry for 'b\.css'"):
        storage.stored_name("b.css")
