"""The record as a page to hand over: for the shop, and one page for the customer."""
