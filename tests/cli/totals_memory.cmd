# intervals of two years need no more memory than those of a month
(ulimit -v 32000 && "$METERBOOK" --version) >/dev/null 2>&1 || { echo "the program does not run within a limit, as under a sanitizer" >&2; exit 77; }
(ulimit -v 32000 && "$METERBOOK" -c invented/meterbook.conf --by interval --format csv totals 2023-03/2025-02 2>/dev/null | wc -l)
(ulimit -v 32000 && "$METERBOOK" -c invented/meterbook.conf --by interval --format json --meter 2 totals 2023-03/2025-02 | grep -c '^    {')
(ulimit -v 32000 && "$METERBOOK" -c invented/meterbook.conf --by interval totals 2023-03/2025-02 | grep -c '^20')
