"""From a finished plan to paper and files: DataFrames in, PDF, HTML, CSV and JSON out; nothing is computed anew."""
