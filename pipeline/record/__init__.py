"""What was agreed, sent, logged and learnt: shapes, reading, whole writing under one lock."""
