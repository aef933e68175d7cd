# ten clear days of May were throttled to 75 % above 253 V, as planned in tests/bench/invent.c: 68 kWh
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z --format csv supply --view lost 2024-05
