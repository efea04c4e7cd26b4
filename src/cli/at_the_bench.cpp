#include "cli/at_the_bench.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

#include "basis/number_text.hpp"
#include "cli/live_view.hpp"
#include "cli/print.hpp"

namespace ebbtide::cli {
namespace {

volatile sig_atomic_t stop_was_asked = 0;

void note_stop(int) {
    stop_was_asked = 1;
}

/// `text` broken to the screen behind a beginning of its own; further lines stand under the first.
void print_behind(const std::string& beginning, const std::string& text) {
    const std::size_t columns = seen_columns(beginning);
    std::string lines = wrapped(text, screen - columns, 0);
    for (std::size_t at = lines.find('\n'); at != std::string::npos; at = lines.find('\n', at + 1))
        lines.insert(at + 1, columns, ' ');
    fmt::print("{}{}\n", beginning, lines);
}

/// A line of standard input, without its end; nothing when it ended or a signal came.
std::optional<std::string> line_typed() {
    std::string line;
    for (char c = 0;;) {
        if (::read(STDIN_FILENO, &c, 1) != 1) return {};
        if (c == '\n') return line;
        line += c;
    }
}

/// Whether a line that begins with 'p' was typed meanwhile. Waits for nothing.
bool pause_typed() {
    struct pollfd input {
        STDIN_FILENO, POLLIN, 0
    };
    bool pause = false;
    while (::isatty(STDIN_FILENO) != 0 && ::poll(&input, 1, 0) == 1) {
        const auto line = line_typed();
        if (!line) break;
        pause = pause || line->starts_with('p');
    }
    return pause;
}

/// The return key says that it is done. Who cannot be heard any more wants no more.
work::Answer ask_on_terminal(const work::Question& question) {
    tell(wrapped(fmt::format("? {} [return: done, s: skip, q: stop] ", question.words), screen, 2));
    const auto line = line_typed();
    if (!line || line->starts_with('q')) return work::Answer::stop;
    return line->starts_with('s') ? work::Answer::skip : work::Answer::done;
}

}  // namespace

void heed_signals() {
    struct sigaction action {};
    action.sa_handler = note_stop;
    action.sa_flags = static_cast<int>(SA_RESETHAND);
    for (const int signal : {SIGINT, SIGTERM, SIGHUP}) ::sigaction(signal, &action, nullptr);
}

bool asked_to_end() {
    return stop_was_asked != 0;
}

Result<work::BenchAtHand> bench_at_hand(const LiveBenchOptions& options, const plan::Bench& believed) {
    const auto pace = work::pace_named(options.pace);
    if (!pace) return pace.error();
    work::BenchAtHandRequest request;
    request.simulated = options.simulated;
    request.seed = options.seed;
    request.pace = *pace;
    request.dry_run = options.dry_run;
    request.ask = ask_on_terminal;
    request.asks_all = options.ask;
    request.stop = asked_to_end;
    request.pause = pause_typed;
    request.say = [](const std::string& words) { tell(wrapped(words, screen, 2) + "\n"); };
    return work::bench_at_hand(request, believed);
}

void DrivingLines::take(const work::LiveEvent& event) {
    const auto line = [](double bench_s, const char* mark, const std::string& words) {
        if (!words.empty()) print_behind(fmt::format("{:>8} s {}", fixed_text(bench_s, 2), mark), words);
    };
    if (const auto* phase = std::get_if<work::PhaseEntered>(&event)) {
        line(phase->bench_s, "  ", phase->words);
    } else if (const auto* waits = std::get_if<work::GuardsChanged>(&event)) {
        line(waits->bench_s, "  ", waits->words);
    } else if (const auto* command = std::get_if<work::CommandSent>(&event)) {
        if (!commands_) return;
        line(command->bench_s, "> ", command->words);
    } else if (const auto* refused = std::get_if<work::CommandRefused>(&event)) {
        line(refused->bench_s, "! ", refused->words);
    } else if (const auto* live = std::get_if<work::MayBeLive>(&event)) {
        line(live->bench_s, "! ", live->words);
    } else if (const auto* found = std::get_if<work::BenchFound>(&event)) {
        if (!found->output_was_on) return;
        line(found->bench_s, "! ", found->words);
    } else if (const auto* prompt = std::get_if<work::Prompt>(&event)) {
        fmt::print("{}\n", wrapped(prompt->text, screen, 0));
    } else if (const auto* recorded = std::get_if<work::RunRecorded>(&event)) {
        run(recorded->place ? recorded->place->label() : "", recorded->readings.value_or(work::RunReadings{}),
            recorded, recorded->file, recorded->words);
    } else if (const auto* step = std::get_if<work::StepRecorded>(&event)) {
        run(step->place ? step->place->label() : step->step, step->readings, nullptr, step->file, "");
    } else if (const auto* aborted = std::get_if<work::RunAborted>(&event)) {
        run(aborted->place ? aborted->place->label() : aborted->step, aborted->readings, nullptr,
            aborted->file, aborted->words);
    } else {
        return;
    }
    std::fflush(stdout);
}

void DrivingLines::run(const std::string& label, const work::RunReadings& readings,
                       const work::RunRecorded* kept, const std::string& file, const std::string& words) {
    fmt::print("run {}  {}\n", ++runs_, label);
    if (kept) {
        print_behind(kept->counts ? "  ● " : "  ○ ", short_levels(kept->run.figures));
        for (const plan::Flag& flag : kept->run.flags)
            if (flag.consequence != plan::Consequence::note)
                print_behind("    ", fmt::format("{} {}: {}", plan::name_of(flag.consequence),
                                                 plan::facts(flag.code).name, flag.message));
    }
    print_behind("    ", readings_text(readings));
    if (!file.empty()) fmt::print("    {}\n", file);
    if (!words.empty()) print_behind("  ! ", words);
}

}  // namespace ebbtide::cli
