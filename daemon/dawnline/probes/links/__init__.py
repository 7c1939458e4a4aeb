"""Links open, read and reconnect; what the bytes mean is the dialects' business."""
