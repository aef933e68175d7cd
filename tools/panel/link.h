/* One descriptor of the panel: a listening socket, a connection or the master
 * end of a pseudo-terminal, with what has come in and what is to go out. */
#ifndef METERBOOK_PANEL_LINK_H
#define METERBOOK_PANEL_LINK_H

#include <stdbool.h>
#include <stdint.h>

#include "reply.h"

enum { LINK_MAX_ANSWERS = 6, LINK_INPUT_SIZE = 1024 };

enum link_kind { LINK_NONE, LINK_LISTENER, LINK_STREAM, LINK_TERMINAL };

/* An answer on its way: late ones and dripping ones wait here. */
struct link_output {
    uint8_t bytes[REPLY_MAX_BYTES];
    size_t size, sent; /* size 0: free */
    int64_t due_us, drip_us;
};

struct link {
    enum link_kind kind;
    int fd, bus;
    int64_t last_us;   /* of the last input */
    int64_t absent_us; /* LINK_TERMINAL: nobody has it open, look again then; 0 = somebody has */
    uint8_t input[LINK_INPUT_SIZE];
    size_t input_size;
    struct link_output outputs[LINK_MAX_ANSWERS];
};

/* Each fills in a free link, or returns false with the reason in errno. */
bool link_listen(struct link *link, struct scenario_bus *bus);
bool link_accept(struct link *link, const struct link *listener);
bool link_open_terminal(struct link *link, const struct scenario_bus *bus);

/* Path of the terminal's other end. */
const char *link_terminal_path(const struct link *link);

/* Removes the symbolic link too. Accepts a link that is not open. */
void link_close(struct link *link, const struct scenario_bus *bus);

/* Queues bytes for due_us; false: too much is waiting already. */
bool link_send(struct link *link, const uint8_t *bytes, size_t size, int64_t due_us, int64_t drip_us);

/* Writes what is due; false: the other side is gone. */
bool link_flush(struct link *link, int64_t now_us);

/* When something will be due; INT64_MAX = nothing waits. */
int64_t link_next(const struct link *link);

#endif
