"""How a batch leaves the shelf: shopper kinds and sell-through by day on shelf."""
