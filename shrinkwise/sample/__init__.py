"""The invented sample store: a stated truth, the days played from it, and the logs it keeps."""
