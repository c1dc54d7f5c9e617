"""The nouns: small frozen types that check themselves."""
