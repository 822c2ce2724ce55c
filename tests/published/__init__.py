"""Published values, each in one place: `published.checks.all_checks()` gives every one."""
