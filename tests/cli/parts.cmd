# what was planned to be wrong with the invented plant: inverter 2 soiled, 3 shaded, 4 stopped; inverter 1 counts 2 % high
# (what they took by the world that wrote it: 91.5, 134.8 until 26 October, 137.4 kWh)
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z parts 2024
