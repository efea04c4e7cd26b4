#include "cli/at_the_bench.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <utility>

#include "basis/number_text.hpp"
#include "cli/print.hpp"
#include "work/drive_log.hpp"
#include "work/live_json.hpp"

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

void print_json(const nlohmann::json& line) {
    fmt::print("{}\n", line.dump());
    // A program that reads it is waiting for this line.
    std::fflush(stdout);
}

work::Answer ask_on_terminal(const work::Question& question) {
    tell(wrapped(fmt::format("? {} [return: done, s: skip, q: stop] ", question.words), screen, 2));
    const auto line = line_typed();
    if (!line || line->starts_with('q')) return work::Answer::stop;
    return line->starts_with('s') ? work::Answer::skip : work::Answer::done;
}

AtTheBench::AtTheBench(const LiveBenchOptions& options, bool commands, std::string title)
    : options_(options), lines_(commands) {
    if (options.json || options.events || options.dry_run || !LiveScreen::possible()) return;
    watched_.emplace();
    LiveState& state = watched_->screen.state;
    state.title = std::move(title);
    state.phase = "opening";
    if (watched_->keys.there()) state.keys = "[p] pause before the next run  [Ctrl-C] stop at once";
    watched_->screen.draw();
}

Result<work::BenchAtHand> AtTheBench::bench_at_hand(const plan::Bench& believed) {
    const auto pace = work::pace_named(options_.pace);
    if (!pace) return pace.error();
    work::BenchAtHandRequest request;
    request.simulated = options_.simulated;
    request.seed = options_.seed;
    request.pace = *pace;
    request.dry_run = options_.dry_run;
    request.ask = [this](const work::Question& question) { return ask(question); };
    request.asks_all = options_.ask;
    request.stop = asked_to_end;
    request.pause = [this] { return pause(); };
    request.say = [this](const std::string& words) { say(words); };
    return work::bench_at_hand(request, believed);
}

work::Answer AtTheBench::ask(const work::Question& question) {
    if (!watched_ || !watched_->keys.there()) return ask_on_terminal(question);
    LiveState& state = watched_->screen.state;
    const std::string keys = std::exchange(state.keys, "[return] done  [s] skip  [q] stop");
    watched_->screen.draw();
    work::Answer answer = work::Answer::stop;
    for (bool open = true; open && !asked_to_end();) {
        const auto key = watched_->keys.next(std::chrono::milliseconds(100));
        open = !key || (*key != '\n' && *key != '\r' && *key != 's' && *key != 'q');
        if (open) continue;
        answer = *key == 's' ? work::Answer::skip : *key == 'q' ? work::Answer::stop : work::Answer::done;
    }
    state.keys = keys;
    return answer;
}

bool AtTheBench::pause() {
    if (!watched_ || !watched_->keys.there()) return pause_typed();
    bool pause = false;
    while (const auto key = watched_->keys.next()) pause = pause || *key == 'p';
    return pause;
}

void AtTheBench::say(const std::string& words) {
    if (watched_)
        cli::take(watched_->screen.state, work::Prompt{words});
    else
        tell(wrapped(words, screen, 2) + "\n");
}

void AtTheBench::take(const work::LiveEvent& event, Instant began) {
    if (watched_) {
        cli::take(watched_->screen.state, event);
        // At the pace of a simulated bench most of what happens is gone before it could be read.
        const bool matters = std::holds_alternative<work::RunRecorded>(event) ||
                             std::holds_alternative<work::RunAborted>(event) ||
                             std::holds_alternative<work::QuestionAsked>(event) ||
                             std::holds_alternative<work::MayBeLive>(event);
        return matters ? watched_->screen.draw() : watched_->screen.draw_when_due();
    }
    if (options_.events) return print_json(work::event_line(event));
    if (!options_.json) return lines_.take(event);
    if (const auto line = work::drive_line(event, began)) print_json(*line);
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
