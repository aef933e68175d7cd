/* One line to stderr, with the syslog priority prefix that systemd reads.
 * Stages return codes; only collect, the buses' driver and main log, and they
 * log changes of state, not repetitions. */
#ifndef METERBOOK_LOG_H
#define METERBOOK_LOG_H

enum log_level { LOG_ERROR = 3, LOG_WARN = 4, LOG_NOTE = 5, LOG_INFO = 6, LOG_FINE = 7 };

/* Lines above this level are dropped; default LOG_INFO. Safe from any thread. */
void log_set_level(enum log_level level);

/* Prefix "<n>" before each line, for the journal; off by default. */
void log_set_prefix(int on);

void log_write(enum log_level level, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
