# Where the record speaks the logbook is left alone: the answer is the same as with it read, which the word "precedence" in it causes.
{ cat invented/logbook; echo '# no precedence'; } >invented/logbook.read
sed 's/logbook = "logbook"/logbook = "logbook.read"/' invented/meterbook.conf >invented/read.conf
while read -r words; do
    for conf in meterbook read; do
        # shellcheck disable=SC2086 # words
        "$METERBOOK" -c invented/$conf.conf --now 2025-03-02T09:00:00Z $words --format json >"invented/$conf.out" 2>&1 || echo "$words: ended with $?"
    done
    cmp -s invented/meterbook.out invented/read.out && echo "$words: the same" || echo "$words: differs"
done <<END
day 2024-05-05
day 2023-03-01
month 2024-06
month 2023-03
month 2023-02
year 2024
year 2023
totals 2024-W24
totals 2022-05/2025-01
totals all
END
rm invented/logbook.read invented/read.conf invented/*.out
