"""What became of something that is done at once: it is said on the page that follows."""

from django.contrib import messages

from labsite.common.errors import InvalidInput, WrongState


def done_or_told(request, following, service, done: str, **arguments):
    """Do it and say so, or say why it was not done; either is shown by the page ``following`` leads to.

    Who may not do it at all is refused as everywhere; here are told those who came too late.
    """
    try:
        service(actor=request.user, **arguments)
    except (InvalidInput, WrongState) as fault:
        # The thing has moved on since the page was loaded; the page that follows shows how it stands.
        messages.error(request, fault.message)
    else:
        messages.success(request, done)
    return following
