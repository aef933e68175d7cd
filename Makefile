# meterbook: build, test, install. `make help` lists the targets.
BUILD ?= build
PREFIX ?= /usr/local
SYSCONFDIR ?= /etc
VERSION = 0.1

CC ?= cc
CFLAGS ?= -O2 -g
PACKAGES = libmodbus sqlite3 libconfig
WARNINGS = -Wall -Wextra -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wvla -Wcast-qual -Wformat=2 -Werror
# the rooms of the query tool; the panel is a program of its own
TOOL_ROOMS = $(filter-out tools/panel/,$(sort $(dir $(wildcard tools/*/*.c))))
# 64-bit time and offsets on 32-bit ARM too
CPPFLAGS_OWN = -D_GNU_SOURCE -D_TIME_BITS=64 -D_FILE_OFFSET_BITS=64 -DMETERBOOK_VERSION='"$(VERSION)"' \
	-Iinclude -Idaemon -Idaemon/bus -Idaemon/record -Itools $(TOOL_ROOMS:%/=-I%) -Itools/panel -Itests/fake -Itests/real
CFLAGS_OWN = -std=c11 $(WARNINGS) $(shell pkg-config --cflags $(PACKAGES))
LIBS = $(shell pkg-config --libs $(PACKAGES)) -lm -pthread
COMPILE = $(CC) $(CPPFLAGS_OWN) $(CPPFLAGS) $(CFLAGS_OWN) $(CFLAGS) -MMD -MP

object = $(patsubst %.c,$(BUILD)/%.o,$(1))
RECORD = $(sort $(wildcard daemon/record/*.c))
DAEMON = $(sort $(wildcard daemon/*.c daemon/bus/*.c)) $(RECORD)
TOOL = $(sort $(wildcard tools/*.c $(TOOL_ROOMS:%=%*.c))) $(RECORD) daemon/log.c daemon/clock.c
PANEL = $(sort $(wildcard tools/panel/*.c)) $(RECORD)
TESTS = $(sort $(wildcard tests/unit/test_*.c tests/wire/test_*.c tests/sim/test_*.c tests/real/test_*.c))
test_program = $(addprefix $(BUILD)/,$(notdir $(basename $(1))))
UNIT_PROGRAMS = $(call test_program,$(filter tests/unit/%,$(TESTS)))

PROGRAMS = $(BUILD)/meterbookd $(BUILD)/meterbook $(BUILD)/meterbook-panel

all: $(PROGRAMS)  ## the three programs

# program, objects, more libraries
define link_rule
$(BUILD)/$(1): $(2)
	@echo "  LINK  $$@"
	@$$(CC) $$(CFLAGS) $$(LDFLAGS) -o $$@ $$^ $(3) $$(LIBS)
endef
$(eval $(call link_rule,meterbookd,$(call object,$(DAEMON))))
$(eval $(call link_rule,meterbook,$(call object,$(TOOL))))
$(eval $(call link_rule,meterbook-panel,$(call object,$(PANEL))))

$(BUILD)/%.o: %.c
	@mkdir -p $(@D)
	@echo "  CC    $<"
	@$(COMPILE) -c -o $@ $<

# A test's first line names what it links: /* links: daemon/decode.c ... */
# COLLECTOR there stands for all that the collector is made of.
COLLECTOR = $(filter-out $(addprefix daemon/,main.c service.c worker.c boot.c clock.c notify.c plan_report.c), \
	$(wildcard daemon/*.c)) daemon/bus/inbox.c $(RECORD)
links = $(call object,$(wildcard $(subst COLLECTOR,$(COLLECTOR),\
	$(shell sed -n '1s|^/\* links: \(.*\) \*/$$|\1|p' $(1)))))
with_links = $(call object,$(1)) $(call links,$(1))
$(foreach test,$(TESTS),$(eval $(call link_rule,$(notdir $(test:.c=)),$(call with_links,$(test)),-lcmocka)))

unit: $(UNIT_PROGRAMS)  ## build and run the unit tests
	@for t in $^; do $(TEST_WRAPPER) $$t || exit 1; done

include tests/check.mk

SHARE = $(PREFIX)/share
SUBSTITUTE = sed -e 's|@PREFIX@|$(PREFIX)|g' -e 's|@SYSCONFDIR@|$(SYSCONFDIR)|g'
MANUALS = $(wildcard daemon/*.[58] tools/*.[15] tools/panel/*.1)
UNITS = $(wildcard systemd/*.service systemd/*.timer)
# what goes where: source:destination:mode
INSTALLED = $(foreach p,$(PROGRAMS),$(p):$(PREFIX)/bin/$(notdir $(p)):755) \
	$(foreach m,$(MANUALS),$(m):$(SHARE)/man/man$(patsubst .%,%,$(suffix $(m)))/$(notdir $(m)):644) \
	$(foreach c,$(shell find config -type f),$(c):$(SHARE)/meterbook/$(c:config/%=%):644) \
	tools/completion/meterbook.bash:$(SHARE)/bash-completion/completions/meterbook:644 \
	tools/completion/meterbook.zsh:$(SHARE)/zsh/site-functions/_meterbook:644 \
	$(foreach u,$(UNITS),$(u):$(PREFIX)/lib/systemd/system/$(notdir $(u)):644) \
	systemd/sysusers.conf:$(PREFIX)/lib/sysusers.d/meterbook.conf:644 \
	systemd/tmpfiles.conf:$(PREFIX)/lib/tmpfiles.d/meterbook.conf:644

install: all  ## install below $(DESTDIR)$(PREFIX); the configuration in use is never touched
	@for f in $(INSTALLED); do IFS=:; set -- $$f; unset IFS; \
		echo "  INST  $(DESTDIR)$$2"; install -D -m $$3 $$1 "$(DESTDIR)$$2" || exit 1; done
	@for u in $(UNITS); do $(SUBSTITUTE) "$$u" >"$(DESTDIR)$(PREFIX)/lib/systemd/system/$${u##*/}" || exit 1; done

uninstall:  ## remove what install put there
	@for f in $(INSTALLED); do IFS=:; set -- $$f; unset IFS; rm -f "$(DESTDIR)$$2"; done
	@find "$(DESTDIR)$(SHARE)/meterbook" -depth -type d -empty -delete 2>/dev/null || true

size: all  ## code and data of the programs
	@size $(PROGRAMS)

clean:  ## remove what was built
	rm -rf $(BUILD)

help:  ## this list
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  \1\t\2/p' $(MAKEFILE_LIST) | expand -t 14

-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
.PHONY: all unit install uninstall size clean help
.SECONDARY:
