"""Labels that try to get out of their place, for every form of output."""

from hypothesis import strategies as st

_SIGNS = "ab <>&\"'`=/\\{}[]()#;:|%$!?-_*~^@+\u00e9\u2028\u202e"
_KNOWN = [
    "</text><script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "]]></style><svg onload=alert(1)>", "<!--", "-->",
    "&lt;script&gt;", "&#x22;", "{name} {price}", "' onmouseover='x", 'aaaaaaaaaaaaaaaaaaaaaaaaaaa"];evil[label="zzzzzzzz',
    "a" * 33 + "\\", "a" * 33 + '"', '"]; click n "javascript:x"', "%0A::error::x", "::error file=x,line=1::y", "${{ x }}",
]  # fmt: skip
HOSTILE = st.text(st.sampled_from(_SIGNS), min_size=1, max_size=80) | st.sampled_from(_KNOWN)
