-- What a cup of an order line is sold for; null: not said, then as its design says.
ALTER TABLE order_line ADD COLUMN price_micro INTEGER CHECK (price_micro >= 0);
