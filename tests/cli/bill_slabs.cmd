# over a revision that was published later than it holds from
tariffs=$(dirname "$0")/../../config/tariffs
"$METERBOOK" -c invented/meterbook.conf --contract "$tariffs/invented.contract" bill 2023-10
