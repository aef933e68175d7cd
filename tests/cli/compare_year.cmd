# a year earlier by itself: a whole month with an estimate, and one before the record from sealed readings
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z compare 2024-06
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z compare 2024-02
