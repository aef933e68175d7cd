# meterbook: build, test, install. `make help` lists the targets.
BUILD ?= build
PREFIX ?= /usr/local
SYSCONFDIR ?= /etc
VERSION = 0.1

CC ?= cc
CFLAGS ?= -O2 -g
PACKAGES = libmodbus sqlite3 libconfig
WARNINGS = -Wall -Wextra -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wvla -Wcast-qual -Wformat=2 -Werror
# 64-bit time and offsets on 32-bit ARM too
CPPFLAGS_OWN = -D_GNU_SOURCE -D_TIME_BITS=64 -D_FILE_OFFSET_BITS=64 -DMETERBOOK_VERSION='"$(VERSION)"' \
	-Iinclude -Idaemon -Idaemon/bus -Idaemon/record -Itools -Itools/panel -Itests/fake
CFLAGS_OWN = -std=c11 $(WARNINGS) $(shell pkg-config --cflags $(PACKAGES))
LIBS = $(shell pkg-config --libs $(PACKAGES)) -lm -pthread
COMPILE = $(CC) $(CPPFLAGS_OWN) $(CPPFLAGS) $(CFLAGS_OWN) $(CFLAGS) -MMD -MP

object = $(patsubst %.c,$(BUILD)/%.o,$(1))
RECORD = $(sort $(wildcard daemon/record/*.c))
DAEMON = $(sort $(wildcard daemon/*.c daemon/bus/*.c)) $(RECORD)
TOOL = $(sort $(wildcard tools/*.c)) $(RECORD) daemon/log.c
PANEL = $(sort $(wildcard tools/panel/*.c)) $(RECORD)
UNIT = $(sort $(wildcard tests/unit/test_*.c))
UNIT_PROGRAMS = $(patsubst tests/unit/%.c,$(BUILD)/%,$(UNIT))

PROGRAMS = $(BUILD)/meterbookd $(BUILD)/meterbook $(BUILD)/meterbook-panel

all: $(PROGRAMS)  ## the three programs

$(BUILD)/meterbookd: $(call object,$(DAEMON))
$(BUILD)/meterbook: $(call object,$(TOOL))
$(BUILD)/meterbook-panel: $(call object,$(PANEL))
$(PROGRAMS):
	@echo "  LINK  $@"
	@$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(BUILD)/%.o: %.c
	@mkdir -p $(@D)
	@echo "  CC    $<"
	@$(COMPILE) -c -o $@ $<

# A unit test's first line names what it links: /* links: daemon/decode.c ... */
links = $(call object,$(wildcard $(shell sed -n '1s|^/\* links: \(.*\) \*/$$|\1|p' $(1))))
define unit_rule
$(BUILD)/$(notdir $(1:.c=)): $(call object,$(1)) $(call links,$(1))
	@echo "  LINK  $$@"
	@$(CC) $(CFLAGS) $(LDFLAGS) -o $$@ $$^ -lcmocka $(LIBS)
endef
$(foreach test,$(UNIT),$(eval $(call unit_rule,$(test))))

unit: $(UNIT_PROGRAMS)  ## build and run the unit tests
	@for t in $^; do $(TEST_WRAPPER) $$t || exit 1; done

clean:  ## remove what was built
	rm -rf $(BUILD)

-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
.PHONY: all unit clean
.SECONDARY:
