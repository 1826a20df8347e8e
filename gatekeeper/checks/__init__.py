"""One module a rule family: (negative, rules, register) → findings."""
