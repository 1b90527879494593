"""What the tests of hostile content share: values of any kind, and trees with one place exchanged."""

from __future__ import annotations

import string

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

import fibrebook

FUZZ = settings(
    max_examples=40, deadline=10_000, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**12), 10**12), st.floats(), st.text(max_size=6), st.just("../../x")
)
JSON = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(string.ascii_lowercase, max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)


def one_site(folder):
    """Return a new register with one site."""
    made = fibrebook.create(folder / "reg")
    with made.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "S1", "name": "Mill"}])
    return made


def places(value, path=()):
    """Yield the path of everything inside a tree of dicts and lists."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in inner:
        yield (*path, key)
        yield from places(part, (*path, key))


def changed(value, path, new):
    """Return a tree with one place exchanged."""
    if not path:
        return new
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = changed(copy[path[0]], path[1:], new)
    return copy
