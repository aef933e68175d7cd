# the first ten bills are from readings alone
tariffs=$(dirname "$0")/../../config/tariffs
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" savings
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" --format json savings 2024-05 | head -n 24
