"""The shapes of what the API answers: the schema is made of them, and tests hold live answers to it."""
