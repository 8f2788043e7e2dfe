"""How the suite meets hypothesis: the same examples in every run, new ones when asked.

A suite that decides whether a change may land must say the same of the same code twice. New
examples are looked for with `pytest --hypothesis-profile search`.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("suite", derandomize=True, deadline=None)
settings.register_profile("search", derandomize=False, deadline=None, max_examples=300)
settings.load_profile("suite")
