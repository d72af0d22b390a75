"""Take passwords, keys and tokens out of text before it is shown or logged."""

import re

HIDDEN = "***"
_SECRET_WORD = r"(?:password|passwd|secret|token|authorization|api[_-]?key|signature|cookie)"
_URL_PASSWORD = re.compile(r"(?P<head>[a-z][a-z0-9+.-]*://[^\s/@:]*:)[^\s@/]+(?=@)", re.IGNORECASE)
_BEARER = re.compile(r"(?P<head>\b(?:bearer|basic)\s+)[^\s\"',;]+", re.IGNORECASE)
_ASSIGNED = re.compile(
    rf"(?P<head>\b[\w-]*{_SECRET_WORD}[\w-]*[\"']?\s*[=:]\s*[\"']?)(?!bearer|basic)[^\s\"',;&]+",
    re.IGNORECASE,
)
# Our own keys and links: the part that names organisation and key may stay, the secret may not.
_KEY = re.compile(r"(?P<head>\b(?:slab|offer|crew)_[a-z2-7]{34}_)[a-z2-7]{52}_[a-z2-7]{7}")
_NAME = re.compile(_SECRET_WORD, re.IGNORECASE)


def redact(text: str) -> str:
    """`text` with URL passwords, keys, bearer tokens and `secret=value` pairs replaced by ***."""
    for pattern in (_KEY, _URL_PASSWORD, _BEARER, _ASSIGNED):
        text = pattern.sub(lambda match: match["head"] + HIDDEN, text)
    return text


def is_secret_name(name: str) -> bool:
    """Whether a field of this name must never be written out, whatever it holds."""
    return _NAME.search(name) is not None
