"""Review: a person decides on drafts. Decisions are pure; front ends show them."""
