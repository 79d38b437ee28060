"""What would close a link: the least equipment at either end, dish against power, a decibel's worth."""
