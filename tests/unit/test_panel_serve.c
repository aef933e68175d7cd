/* links: tools/panel/serve.c tools/panel/link.c tools/panel/timeline.c tools/panel/reply.c tools/panel/adu.c tools/panel/world.c tools/panel/counting.c tools/panel/replay.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/scenario.c tools/panel/scenario_value.c tools/panel/scenario_world.c tools/panel/scenario_meter.c tools/panel/scenario_fault.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/quantity.c */
/* The panel on real sockets and pseudo-terminals, asked by a small client in the same thread. */
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <sys/socket.h>

#include <cmocka.h>

#include "panel_scenario.h"
#include "serve.h"

enum { PATIENCE_US = 3000000 };

static struct scenario *scenario;
static struct counting counting;
static struct serve serve;
static struct timeline timeline;
static struct panel panel;
static FILE *truth, *request_log;
static char *truth_text, *log_text;
static size_t truth_size, log_size;
static const int64_t wall_start_ms = 1782000000250;

static void begin(const char *bus, const char *meter)
{
    char text[4000];
    struct heard heard;
    snprintf(text, sizeof text,
             PANEL_SITE
             "buses = ( { name = \"b\"; %s } );\nmeters = ( { name = \"m\"; bus = \"b\"; unit_id = 7; "
             "measures = \"grid\"; sunspec = \"203\"; %s } );\n",
             bus, meter);
    scenario = scenario_of(text, &heard);
    if (scenario == NULL)
        print_message("%s\n", heard.lines[0]);
    assert_non_null(scenario);
    truth = open_memstream(&truth_text, &truth_size);
    request_log = open_memstream(&log_text, &log_size);
    counting_init(&counting, scenario, 1);
    panel = (struct panel){ .scenario = scenario, .counting = &counting };
    timeline_init(&timeline, &panel, 1, serve_now(), wall_start_ms, truth, 1000);
    assert_true(serve_open(&serve, &panel, &timeline, request_log));
}

static int teardown(void **state)
{
    (void)state;
    serve_close(&serve);
    fclose(truth);
    fclose(request_log);
    free(truth_text);
    free(log_text);
    scenario_free(scenario);
    return 0;
}

static int dial(void)
{
    struct sockaddr_in address = { .sin_family = AF_INET,
                                   .sin_port = htons((uint16_t)scenario->buses[0].port),
                                   .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (connect(fd, (struct sockaddr *)&address, sizeof address) != 0) {
        close(fd);
        return -1;
    }
    assert_int_equal(fcntl(fd, F_SETFL, O_NONBLOCK), 0);
    return fd;
}

/* A turn that ends soon although nothing may happen: the truth's next line is never a second away here. */
static void turn(void)
{
    timeline.truth_next_ms = wall_start_ms + (serve_now() - timeline.start_us) / 1000 + 20;
    serve_turn(&serve);
}

/* Lets the panel work until so many bytes have come, or the other side has closed (then fewer). */
static size_t receive(int fd, uint8_t *bytes, size_t wanted)
{
    int64_t until_us = serve_now() + PATIENCE_US;
    size_t got = 0;
    while (got < wanted && serve_now() < until_us) {
        turn();
        ssize_t more = read(fd, bytes + got, wanted - got);
        if (more == 0 || (more < 0 && errno != EAGAIN))
            break;
        got += more > 0 ? (size_t)more : 0;
    }
    return got;
}

static size_t make_request(uint8_t *frame, bool mbap, uint16_t address, uint16_t count)
{
    struct adu adu = { .unit = 7,
                       .transaction = 0x0102,
                       .pdu_size = 5,
                       .pdu = { 3, (uint8_t)(address >> 8), (uint8_t)address, (uint8_t)(count >> 8),
                                (uint8_t)count } };
    return mbap ? adu_build_mbap(&adu, frame) : adu_build_rtu(&adu, frame);
}

/* Asks for the SunSpec marker; true if it comes. */
static bool ask(int fd, bool mbap)
{
    uint8_t frame[ADU_MAX_SIZE], answer[ADU_MAX_SIZE];
    size_t size = make_request(frame, mbap, 40000, 2), expected = mbap ? 13 : 9;
    if (write(fd, frame, size) != (ssize_t)size)
        return false;
    return receive(fd, answer, expected) == expected && memcmp(answer + (mbap ? 9 : 3), "SunS", 4) == 0;
}

static void test_tcp(void **state)
{
    (void)state;
    begin("kind = \"tcp\";", "");
    int fd = dial();
    for (int i = 0; i < 50; i++)
        assert_true(ask(fd, true));
    assert_int_equal(panel.requests, 50);
    close(fd);
    fflush(request_log);
    assert_non_null(strstr(log_text, " bus b unit 7 function 3 address 40000 count 2: answered\n"));
}

/* Two requests in one write, one request in many. */
static void test_tcp_pieces(void **state)
{
    uint8_t frames[2 * ADU_MAX_SIZE], answer[26];
    (void)state;
    begin("kind = \"tcp\";", "");
    int fd = dial();
    size_t size = make_request(frames, true, 40000, 2);
    make_request(frames + size, true, 40000, 2);
    assert_int_equal(write(fd, frames, 2 * size), 2 * size);
    assert_int_equal(receive(fd, answer, 26), 26);
    for (size_t i = 0; i < size; i++) {
        assert_int_equal(write(fd, frames + i, 1), 1);
        turn();
    }
    assert_int_equal(receive(fd, answer, 13), 13);
    /* no MBAP header: the connection ends */
    assert_int_equal(write(fd, "GET / HTTP/1.0", 14), 14);
    assert_int_equal(receive(fd, answer, 1), 0);
    close(fd);
}

static void test_rtu_over_tcp(void **state)
{
    (void)state;
    begin("kind = \"rtu-over-tcp\";", "");
    int fd = dial();
    for (int i = 0; i < 5; i++)
        assert_true(ask(fd, false));
    close(fd);
}

static int open_terminal(void)
{
    const char *path = NULL;
    for (int i = 0; i < SERVE_MAX_LINKS; i++)
        if (serve.links[i].kind == LINK_TERMINAL)
            path = link_terminal_path(&serve.links[i]);
    return path != NULL ? open(path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC) : -1;
}

static void test_pseudo_terminal(void **state)
{
    char link_path[] = "/tmp/panel-link-XXXXXX", bus[200], target[200] = "";
    (void)state;
    close(mkstemp(link_path));
    unlink(link_path);
    snprintf(bus, sizeof bus, "kind = \"rtu\"; baud = 19200; link = \"%s\";", link_path);
    begin(bus, "");
    assert_true(readlink(link_path, target, sizeof target - 1) > 0);
    assert_memory_equal(target, "/dev/pts/", 9);
    for (int round = 0; round < 2; round++) { /* opened, closed, opened again */
        int fd = open(link_path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
        assert_true(fd >= 0);
        int64_t from_us = serve_now();
        assert_true(ask(fd, false));
        /* 8 characters of request, 9 of answer, 11 bits each */
        assert_true(serve_now() - from_us >= 17 * 11 * 1000000 / 19200);
        close(fd);
        turn();
    }
    serve_close(&serve);
    assert_int_equal(readlink(link_path, target, sizeof target - 1), -1);
}

static void test_bad_crc_is_not_answered(void **state)
{
    uint8_t frame[ADU_MAX_SIZE];
    (void)state;
    begin("kind = \"rtu\";", "");
    int fd = open_terminal();
    size_t size = make_request(frame, false, 40000, 2);
    frame[size - 1] ^= 1;
    assert_int_equal(write(fd, frame, size), size);
    for (int i = 0; i < 10; i++)
        turn();
    assert_int_equal(panel.requests, 0);
    assert_true(ask(fd, false));
    close(fd);
}

static void test_unplug_tcp(void **state)
{
    (void)state;
    begin("kind = \"tcp\"; faults = ( { kind = \"unplug\"; from = 0.2; to = 0.5; } );", "");
    int fd = dial(), port = scenario->buses[0].port;
    uint8_t byte;
    assert_true(ask(fd, true));
    assert_int_equal(receive(fd, &byte, 1), 0); /* closed */
    close(fd);
    assert_int_equal(dial(), -1); /* and shut */
    for (int64_t until_us = serve_now() + PATIENCE_US; !serve.plugged[0] && serve_now() < until_us;)
        turn();
    assert_int_equal(scenario->buses[0].port, port);
    fd = dial();
    assert_true(ask(fd, true));
    close(fd);
}

static void test_unplug_terminal(void **state)
{
    uint8_t byte;
    (void)state;
    begin("kind = \"rtu\"; faults = ( { kind = \"unplug\"; from = 0.2; to = 0.5; } );", "");
    int fd = open_terminal();
    assert_true(ask(fd, false));
    assert_int_equal(receive(fd, &byte, 1), 0);
    assert_true(write(fd, "x", 1) < 0 && errno == EIO); /* as of an adapter that was pulled out */
    close(fd);
    for (int64_t until_us = serve_now() + PATIENCE_US; !serve.plugged[0] && serve_now() < until_us;)
        turn();
    fd = open_terminal();
    assert_true(ask(fd, false));
    close(fd);
}

static void test_one_client_and_idle(void **state)
{
    uint8_t byte;
    (void)state;
    begin("kind = \"tcp\"; clients = 1; idle_close = 0.3;", "");
    int first = dial();
    assert_true(ask(first, true));
    int second = dial();
    assert_int_equal(receive(second, &byte, 1), 0);
    close(second);
    assert_true(ask(first, true));
    int64_t from_us = serve_now();
    assert_int_equal(receive(first, &byte, 1), 0);
    assert_in_range(serve_now() - from_us, 250000, PATIENCE_US - 1);
    close(first);
}

static void test_late_and_dripping(void **state)
{
    uint8_t frame[ADU_MAX_SIZE], answer[13];
    (void)state;
    begin("kind = \"tcp\";", "faults = ( { kind = \"late\"; ms = 200; times = 1; }, { kind = \"drip\"; ms = "
                             "10; nth = 2; times = 1; } );");
    int fd = dial();
    size_t size = make_request(frame, true, 40000, 2);
    int64_t from_us = serve_now();
    assert_int_equal(write(fd, frame, size), size);
    assert_int_equal(receive(fd, answer, 13), 13);
    assert_in_range(serve_now() - from_us, 199000, PATIENCE_US - 1);
    from_us = serve_now();
    assert_int_equal(write(fd, frame, size), size);
    assert_int_equal(receive(fd, answer, 13), 13);
    assert_in_range(serve_now() - from_us, 12 * 10000, PATIENCE_US - 1);
    close(fd);
}

static void test_foreign_master(void **state)
{
    uint8_t bytes[17];
    (void)state;
    begin("kind = \"rtu\"; faults = ( { kind = \"foreign_master\"; ms = 20; } );", "");
    int fd = open_terminal();
    for (int i = 0; i < 3; i++) {
        assert_int_equal(receive(fd, bytes, 17), 17);
        assert_int_equal(adu_crc(bytes, 8), 0);
        assert_int_equal(adu_crc(bytes + 8, 9), 0);
        assert_int_equal(bytes[0], 77);
    }
    close(fd);
}

/* Truth is exact at its own instant, not at that of the turn that wrote it; a reset happens at its own, too.
 */
static void test_truth_lines(void **state)
{
    (void)state;
    begin("kind = \"tcp\";",
          "import_wh = 50.0; export_wh = 70.0; faults = ( { kind = \"reset\"; from = 2; } );");
    timeline_catch_up(&timeline, timeline.start_us + 3500000); /* all in one go */
    assert_int_equal(panel.elapsed_ms, 3500);
    fflush(truth);
    int lines = 0, energy_lines = 0;
    for (char *line = strtok(truth_text, "\n"); line != NULL; line = strtok(NULL, "\n"), lines++) {
        long long s, ms, import_mwh, export_mwh, import_register, export_register;
        if (sscanf(line, "%lld.%lld,m,%lld,%lld,%lld,%lld", &s, &ms, &import_mwh, &export_mwh,
                   &import_register, &export_register) != 6)
            continue;
        static struct counting exact;
        counting_init(&exact, scenario, 1);
        counting_advance(&exact, s * 1000 + ms - wall_start_ms);
        assert_true(ms == (energy_lines == 0 ? 250 : 0));
        assert_true(counting_energy(&exact, 0, Q_ACTIVE_IMPORT) == import_mwh);
        assert_true(counting_energy(&exact, 0, Q_ACTIVE_EXPORT) == export_mwh);
        assert_true(s * 1000 + ms - wall_start_ms >= 2000 ? export_register < 70000
                                                          : export_register >= 70000);
        energy_lines++;
    }
    assert_int_equal(lines, 5);
    assert_int_equal(energy_lines, 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_tcp, teardown),
        cmocka_unit_test_teardown(test_tcp_pieces, teardown),
        cmocka_unit_test_teardown(test_rtu_over_tcp, teardown),
        cmocka_unit_test_teardown(test_pseudo_terminal, teardown),
        cmocka_unit_test_teardown(test_bad_crc_is_not_answered, teardown),
        cmocka_unit_test_teardown(test_unplug_tcp, teardown),
        cmocka_unit_test_teardown(test_unplug_terminal, teardown),
        cmocka_unit_test_teardown(test_one_client_and_idle, teardown),
        cmocka_unit_test_teardown(test_late_and_dripping, teardown),
        cmocka_unit_test_teardown(test_foreign_master, teardown),
        cmocka_unit_test_teardown(test_truth_lines, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
