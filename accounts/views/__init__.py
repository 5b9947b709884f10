"""The pages about people: one's own account, the members, the community."""
