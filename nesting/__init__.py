"""What to do with the wood: from finished parts to blanks, patterns and a plan.

Read `parts` and `project` first, then `blanks` (how a part becomes rough wood) and
`plan` (what a finished plan says).
"""
