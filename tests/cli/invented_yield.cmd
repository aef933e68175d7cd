# a year with all that was planned to be wrong, and a month by days as data
meterbook() { "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }
meterbook yield 2024
meterbook --by day --format csv yield 2024-09-12/2024-09-16
meterbook --format json --by year yield all
