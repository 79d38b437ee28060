"""Why a partner or a night has no slot, and what would change it, tried before it is said."""
