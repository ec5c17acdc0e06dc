"""Handing in a page as a browser does: what its form holds, with what was typed over it."""

import re
from html import unescape

from django.forms import BaseForm


def typed(form: BaseForm, **over):
    """Every field of a form as the page shows it, then what is typed."""
    data = {}
    for bound in form:
        value = bound.value()
        if value is None or value is False or value == "":
            continue
        if isinstance(value, list | tuple):
            data[bound.html_name] = [str(getattr(one, "pk", one)) for one in value]
        else:
            data[bound.html_name] = "on" if value is True else str(getattr(value, "pk", value))
    return {**data, **{name: value for name, value in over.items() if value is not None}}


def page_form(client, url, name="form"):
    answer = client.get(url)
    assert answer.status_code == 200, answer.status_code
    return answer.context[name]


def text(answer) -> str:
    """What is read on the page."""
    plain = re.sub(r"<(script|style)\b.*?</\1>", " ", answer.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", plain)))
