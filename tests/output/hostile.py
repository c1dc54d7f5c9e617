"""Names a file might carry to run something, colour a terminal or break out of its place."""

NAMES = (
    "<img src=x onerror=document.title='ran'>",
    "</script><script>document.title='ran'</script>",
    "{{ 7*7 }}{% raw %}${7*7}`${7*7}`",
    "'\"><svg onload=document.title='ran'>",
    "\u2028\u2029\u202emirrored\x1b[31mred\x07",
    "$x_{2}^{$ & \\u003c \\",
)
EVERY = " ".join(NAMES)
