"""Letters: what each partner is sent, how it leaves, and what comes back."""
