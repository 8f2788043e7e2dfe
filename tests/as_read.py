"""Words as a person reads them."""


def as_read(words: str) -> str:
    """Words as a person reads them: a space that keeps a figure and its unit together is one."""
    return words.replace("\u00a0", " ")
