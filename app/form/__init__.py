"""Ask and keep: fields, typed values, cases made from them and read back."""
