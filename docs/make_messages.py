"""Write docs/messages.md from the declared messages.

Run ``python docs/make_messages.py > docs/messages.md`` after a change of the messages.
"""

from motiffit.messages import MESSAGES

HEAD = """# Messages

Every record, screen and page names what it has to say by one of these codes. An *error* means that
the photo could not be measured (outcome `refused`), a *warning* that a person should look before
cutting (`check`), a *note* needs nothing. Words in braces are filled in.

| code | severity | what was seen | what to do |
|---|---|---|---|
"""


def page() -> str:
    """Return the page as Markdown."""
    rows = [
        f"| `{code}` | {kind.severity} | {kind.text} | {kind.cure or '-'} |"
        for code, kind in MESSAGES.items()
    ]
    return HEAD + "\n".join(rows) + "\n"


if __name__ == "__main__":
    print(page(), end="")
