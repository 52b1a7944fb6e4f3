"""Codes that children type and tokens that links carry, and how they are compared."""

from __future__ import annotations

import hashlib
import secrets

# No look-alikes: 0 O, 1 I L, 2 Z, 5 S, 8 B are left out, and U and V are not told apart in hand-writing.
ALPHABET = "ACDEFGHJKMNPQRTUWXY34679"
CLASS_CODE_LENGTH = 5
# The class code hangs on the wall, so a team's own code alone must keep classmates out, unthrottled.
TEAM_CODE_LENGTH = 12
# What an earlier version made: too short to be safe from guessing, and no way in any more.
OLD_TEAM_CODE_LENGTH = 6
GROUP = 4


def make_code(length: int) -> str:
    """Return a random code of `length` characters from the alphabet without look-alikes."""
    return "".join(secrets.choice(ALPHABET) for _ in range(length))


def make_class_code() -> str:
    """Return a new class code."""
    return make_code(CLASS_CODE_LENGTH)


def make_team_code() -> str:
    """Return a new team code."""
    return make_code(TEAM_CODE_LENGTH)


def tidy_code(typed: str) -> str:
    """Return a typed code as it is stored: upper case, without blanks and dashes."""
    return "".join(character for character in typed.upper() if character.isalnum())


def in_groups(code: str) -> str:
    """Return a long code as it is read and typed, in groups of four: 'ACDE FGHJ KMNP'."""
    if len(code) <= GROUP + 2:
        return code
    return " ".join(code[start : start + GROUP] for start in range(0, len(code), GROUP))


def make_token() -> str:
    """Return an unguessable token (256 bits) for a link or a cookie."""
    return secrets.token_urlsafe(32)


def hash_token(token: str) -> str:
    """Return the digest under which a token is stored; a stolen database opens no door."""
    return hashlib.sha256(token.encode()).hexdigest()
