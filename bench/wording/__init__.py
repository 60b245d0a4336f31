"""What a person reads, made from codes and values; nothing here measures or decides."""
