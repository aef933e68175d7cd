# what was planned to be wrong with the invented plant: inverter 2 soiled, 3 shaded, 4 stopped; inverter 1 counts 2 % high
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z parts 2024
