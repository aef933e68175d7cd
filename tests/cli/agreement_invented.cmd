# the invented plant: of two years one month's import is off by 1.8 %, within the classes but unlike the others
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z agreement >answer; echo "code $?"
grep ': \|unlike' answer | grep -v 'limits\|self-'
"$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z agreement "sealed production meter" 2022-06/2022-12; echo "code $?"
