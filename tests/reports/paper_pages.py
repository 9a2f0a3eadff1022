"""How long a certificate is: the one place that a further page of it changes in the tests."""

MOST_PAGES = 2
"""With parts, stacks, photographs and all that went wrong on it."""
PLAIN_PAGES = MOST_PAGES - 1
"""Where a family records no more than oil, charge and steps."""
