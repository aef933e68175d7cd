# Tests, measurements and lint; included by the Makefile.

TEST_PROGRAMS = $(call test_program,$(TESTS))
TEST_SCRIPTS = $(filter-out tests/cli/run.sh tests/bench/run.sh,$(sort $(wildcard tests/*/run.sh tests/*/test_*.sh)))
FUZZERS = $(sort $(wildcard tests/fuzz/fuzz_*.c))
REPLAYS = $(patsubst tests/fuzz/fuzz_%.c,$(BUILD)/replay_%,$(FUZZERS))
# a fuzzer's corpus is tests/fuzz/corpus/NAME unless said otherwise
corpus_config = config tests/config
corpus_tariff = config/tariffs config/carbon
corpus_map = config/maps tests/config/maps
corpus = $(or $(corpus_$(1)),$(wildcard tests/fuzz/corpus/$(1)))

# make_record writes the records that the command line's tests read
$(eval $(call link_rule,make_record,$(call object,tests/cli/make_record.c daemon/record/schema.c)))
# close_days closes their days again where a test changed rows
$(eval $(call link_rule,close_days,$(call with_links,tests/cli/close_days.c)))
# kill_at kills a program in front of a system call
$(eval $(call link_rule,kill_at,$(call with_links,tests/wire/kill_at.c)))
# what the fuzzers found interesting is an ordinary test too
$(foreach f,$(FUZZERS),$(eval $(call link_rule,$(notdir $(f:tests/fuzz/fuzz_%.c=replay_%)), \
	$(call with_links,$(f)) $(call object,tests/fuzz/replay.c))))
# invent_*.c are parts of invent
BENCHES = $(filter-out tests/bench/invent_%.c,$(sort $(wildcard tests/bench/*.c)))
$(foreach b,$(BENCHES),$(eval $(call link_rule,$(notdir $(b:.c=)),$(call with_links,$(b)))))

# the simulation: scenario files named after fears, and random seeds
FEARS = $(sort $(wildcard tests/sim/fears/*.cfg))
$(eval $(call link_rule,simulate,$(call with_links,tests/sim/simulate.c)))

check:  ## every test; the last line says how many passed and failed
	@BUILD=$(BUILD) tests/deps.sh check
	@$(MAKE) --no-print-directory -j$$(nproc) run-tests

# data of a package, unpacked by tests/deps.sh
GRETL = $(firstword $(wildcard /usr/share/gretl $(abspath $(BUILD)/packages/usr/share/gretl)))
# WITH names more commands to run as tests; ONLY='tests/wire/%' runs those alone
ifneq ($(ONLY),)
run-tests: $(call test_program,$(filter $(ONLY),$(TESTS))) $(PROGRAMS) $(BUILD)/make_record $(BUILD)/close_days $(BUILD)/invent $(BUILD)/kill_at
	@export BUILD=$(BUILD); tests/run.sh $(BUILD)/logs $(foreach t,$(call test_program,$(filter $(ONLY),$(TESTS))),'$(TEST_WRAPPER) $(t)') \
		$(filter $(ONLY),$(TEST_SCRIPTS)) $(WITH)
else
run-tests: $(TEST_PROGRAMS) $(PROGRAMS) $(REPLAYS) $(BUILD)/make_record $(BUILD)/close_days $(BUILD)/invent $(BUILD)/kill_at $(BUILD)/simulate
	@export BUILD=$(BUILD) METERBOOK_GRETL=$${METERBOOK_GRETL:-$(GRETL)}; tests/run.sh $(BUILD)/logs $(WITH) 'tests/cli/run.sh $(BUILD)/meterbook $(BUILD)/make_record' \
		$(foreach t,$(TEST_PROGRAMS),'$(TEST_WRAPPER) $(t)') \
		$(foreach r,$(REPLAYS),'$(TEST_WRAPPER) $(r) $(wildcard $(addsuffix /*,$(call corpus,$(r:$(BUILD)/replay_%=%))))') \
		'$(TEST_WRAPPER) $(BUILD)/simulate $(FEARS) --random 20' \
		$(TEST_SCRIPTS)

endif

sim: $(BUILD)/simulate  ## all fears by name, twenty seeds, a hostile disk, and how fast it goes
	@$(BUILD)/simulate $(FEARS) --random 20 --hostile 500 --speed 8

SEEDS ?= 1000
soak: $(BUILD)/simulate  ## SEEDS=1000 random seeds; METERBOOK_SEED=N replays one
	@$(BUILD)/simulate --random $(SEEDS)

SANITIZE = -O1 -g -fno-omit-frame-pointer -fno-sanitize-recover=all
# cmocka would catch the faults that the sanitizer is there to report
export ASAN_OPTIONS = handle_segv=2:detect_stack_use_after_return=1
# the configuration parser's library forgets a string in a file with a syntax error
export LSAN_OPTIONS = suppressions=$(CURDIR)/tests/leaks.txt:print_suppressions=0
check-asan:  ## the tests under the address and undefined-behaviour sanitizers, gcc and clang
	@BUILD=$(BUILD) tests/deps.sh check lint
	@for cc in gcc clang; do $(MAKE) --no-print-directory run-tests BUILD=$(BUILD)/asan-$$cc CC=$$cc \
		CFLAGS='$(SANITIZE) -fsanitize=address,undefined' || exit 1; done

check-tsan: ONLY = tests/wire/%.sh tests/unit/test_wire_% tests/unit/test_inbox.c
check-tsan:  ## the wire tests, where threads are, under the thread sanitizer
	@BUILD=$(BUILD) tests/deps.sh check
	@# the fences of latest.c are for other processes: it is no matter that the sanitizer does not know them
	@$(MAKE) --no-print-directory run-tests BUILD=$(BUILD)/tsan CC=gcc CFLAGS='$(SANITIZE) -fsanitize=thread -Wno-tsan' ONLY='$(ONLY)'

coverage:  ## lines and branches of daemon/ and tools/ that the tests reach
	@BUILD=$(BUILD) tests/deps.sh check
	@find $(BUILD)/coverage -name '*.gcda' -delete 2>/dev/null || true
	@$(MAKE) --no-print-directory run-tests BUILD=$(BUILD)/coverage CC=gcc CFLAGS='-O0 -g --coverage'
	@tests/coverage.sh $(BUILD)/coverage

mutate:  ## break the code on purpose, see that the simulation notices
	@BUILD=$(BUILD) tests/deps.sh check
	@BUILD=$(BUILD) tests/mutate.sh

SECONDS ?= 60
fuzz:  ## fuzz each fuzzer for SECONDS=60
	@BUILD=$(BUILD) tests/deps.sh build lint
	@$(MAKE) --no-print-directory $(FUZZERS:tests/fuzz/fuzz_%.c=fuzz-%)

fuzz-%: $(BUILD)/fuzz/fuzz_%
	@mkdir -p $(BUILD)/fuzz/corpus/$*
	$< -max_total_time=$(SECONDS) -artifact_prefix=$(BUILD)/fuzz/ $(BUILD)/fuzz/corpus/$* $(call corpus,$*)

$(BUILD)/fuzz/%: tests/fuzz/%.c FORCE
	@mkdir -p $(@D)
	@echo "  FUZZ  $@"
	@clang $(CPPFLAGS_OWN) $(CFLAGS_OWN) $(SANITIZE) -fsanitize=fuzzer,address,undefined -o $@ $< \
		$(patsubst $(BUILD)/%.o,%.c,$(call links,$<)) $(LIBS)

SOURCES = $(sort $(wildcard daemon/*.c daemon/*/*.c tools/*.c tools/*/*.c tests/*/*.c))
HEADERS = $(sort $(wildcard include/*.h daemon/*.h daemon/*/*.h tools/*.h tools/*/*.h tests/*/*.h))
SHELLS = $(sort $(wildcard tests/*.sh tests/*/*.sh tools/*.sh tools/completion/*.bash .ci/run))

lint:  ## format, clang-tidy, cppcheck, manual pages, shell scripts
	@BUILD=$(BUILD) tests/deps.sh check lint
	@$(MAKE) --no-print-directory -k -j$$(nproc) lint-format lint-manuals lint-shell lint-cppcheck lint-tidy
lint-format:
	@clang-format --dry-run -Werror $(SOURCES) $(HEADERS)
lint-manuals:
	@mandoc -T lint -W warning $(MANUALS)
lint-shell:
	@shellcheck -S warning -e SC2148,SC2154,SC2034 $(SHELLS)
lint-cppcheck:
	@cppcheck -q --std=c11 --enable=warning,performance,portability --inline-suppr --error-exitcode=1 \
		-j $$(nproc) --suppressions-list=tests/cppcheck.txt $(CPPFLAGS_OWN) $(SOURCES)
# not the tests: a failed assertion leaves by longjmp, which clang-tidy does not follow
lint-tidy: $(patsubst %,$(BUILD)/tidy/%,$(filter daemon/% tools/%,$(SOURCES)))
# checked again only when it, a header or the rules changed
$(BUILD)/tidy/%: % .clang-tidy $(HEADERS)
	@mkdir -p $(@D)
	@echo "  TIDY  $<"
	@clang-tidy --quiet $< -- $(CPPFLAGS_TIDY) 2>$@.log || { cat $@.log; exit 1; }
	@touch $@
CPPFLAGS_TIDY = -std=c11 -D_GNU_SOURCE -DMETERBOOK_VERSION=\"$(VERSION)\" $(filter -I%,$(CPPFLAGS_OWN)) \
	$(shell pkg-config --cflags $(PACKAGES))

format:  ## put every source into the house's form
	clang-format -i $(SOURCES) $(HEADERS)

# The libraries' headers are the same on every machine, so the build machine's do.
arm:  ## compile everything for 32-bit ARM, warnings as errors
	@BUILD=$(BUILD) tests/deps.sh build arm
	@mkdir -p $(BUILD)/arm/include
	@ln -sf /usr/include/sqlite3.h /usr/include/libconfig.h /usr/include/modbus $(BUILD)/arm/include/
	@$(MAKE) --no-print-directory objects BUILD=$(BUILD)/arm CC=arm-linux-gnueabihf-gcc CPPFLAGS=-I$(BUILD)/arm/include
objects: $(call object,$(sort $(DAEMON) $(TOOL) $(PANEL)))

demo:  ## an invented home, its meters simulated, read and shown
	@BUILD=$(BUILD) tests/deps.sh demo
	@$(MAKE) --no-print-directory all
	@tests/demo.sh $(BUILD)

bench:  ## measure the figures that README quotes
	@BUILD=$(BUILD) tests/deps.sh bench
	@$(MAKE) --no-print-directory all $(patsubst tests/bench/%.c,$(BUILD)/%,$(BENCHES)) $(BUILD)/test_collect $(BUILD)/make_record
	@BUILD=$(BUILD) tests/bench/run.sh

deps:  ## install the Debian packages for everything above
	@BUILD=$(BUILD) tests/deps.sh build demo check lint arm bench pages

.PHONY: check run-tests sim soak check-asan check-tsan coverage mutate fuzz lint format arm objects demo bench deps FORCE \
	lint-format lint-manuals lint-shell lint-cppcheck lint-tidy
