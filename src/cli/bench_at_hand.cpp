#include "cli/bench_at_hand.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>

#include "basis/number_text.hpp"
#include "bench/rehearsal_bench.hpp"
#include "bench/simulated_bench.hpp"
#include "cli/clock.hpp"
#include "cli/live_view.hpp"
#include "cli/print.hpp"
#include "work/bench_standing.hpp"
#include "work/drive_log.hpp"
#include "work/simulate.hpp"

namespace ebbtide::cli {
namespace {

volatile sig_atomic_t stop_was_asked = 0;

void note_stop(int) {
    stop_was_asked = 1;
}

/// `text` broken to the screen behind a beginning of its own; further lines stand under the first.
void print_behind(const std::string& beginning, const std::string& text) {
    const auto columns = static_cast<std::size_t>(std::ranges::count_if(
        beginning, [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
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

/// What hangs in the clamps of a simulated bench for a step of the check: the first of its kind.
std::string simulated_name(const plan::Simulation& simulation, bench::Mounted mounted) {
    using Kind = plan::SimulatedSpecimen::Kind;
    if (mounted == bench::Mounted::nothing) return "";
    if (mounted == bench::Mounted::blank) return "blank";
    const Kind kind = mounted == bench::Mounted::plate ? Kind::plate : Kind::check_standard;
    for (const plan::SimulatedSpecimen& one : simulation.specimens)
        if (one.kind == kind) return one.id;
    return "plate";
}

/// Mounts what is asked for and never tires; after an abort it resets the source and tries once more.
struct SimulatedHands {
    plan::Simulation simulation;
    bench::SimulatedBench* bench = nullptr;
    bool asks = false;  ///< a person answers; the hands only mount
    bool paused = false;
    std::string tried_again;

    bool pause() { return paused = pause_typed(); }

    work::Answer answer(const work::Question& question) {
        using Kind = work::Question::Kind;
        if (asks || (paused && question.kind == Kind::leave)) {
            paused = false;
            const work::Answer answer = ask_on_terminal(question);
            if (question.kind == Kind::look) bench->reset_source();
            if (answer != work::Answer::done || question.kind != Kind::mount) return answer;
        }
        if (question.kind == Kind::mount) {
            const std::string name = question.mounted ? simulated_name(simulation, *question.mounted)
                                                      : question.key.value_or(plan::RunKey{}).specimen;
            const auto hung = bench->mount(name);
            if (!hung) tell(fmt::format("simulated bench: {}\n", hung.error().text()));
            return hung ? work::Answer::done : work::Answer::stop;
        }
        if (question.kind == Kind::look) {
            bench->reset_source();
            const std::string what = question.key ? question.key->label() : question.words;
            if (what == tried_again) return work::Answer::skip;
            tried_again = what;
        }
        return work::Answer::done;
    }
};

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

Instant session_begin(const BenchAtHand& at_hand, const plan::Bench& bench, const std::string& order,
                      const std::string& bench_file) {
    Instant begin = time_of_making();
    if (!at_hand.ahead_of_time) return begin;
    const auto behind = [&](Instant left) { begin = std::max(begin, left + Span::from_seconds(1)); };
    const auto folder = std::filesystem::path(bench_file).parent_path().string();
    for (const std::string& place : {order, bench_file.empty() ? order : folder.empty() ? "." : folder}) {
        if (place.empty()) continue;
        if (const auto checks = work::bench_checks_in(place, bench))
            for (const plan::BenchCheck& check : *checks) behind(check.at);
        std::ifstream log(place + "/" + work::drive_log_name);
        for (std::string line; std::getline(log, line);) {
            const auto parsed = nlohmann::json::parse(line, nullptr, false);
            if (!parsed.is_object() || !parsed.contains("at") || !parsed["at"].is_string()) continue;
            if (const auto at = parse_instant(parsed["at"].get<std::string>())) behind(*at);
        }
    }
    return begin;
}

Result<BenchAtHand> bench_at_hand(const LiveBenchOptions& options, const plan::Bench& believed) {
    BenchAtHand out;
    if (options.dry_run) {
        out.bench = std::make_unique<bench::RehearsalBench>(bench::Rehearsal{}, work::scales_of(believed));
        out.person.ask = [](const work::Question&) { return work::Answer::done; };
        out.person.stop = asked_to_end;
        return out;
    }
    if (options.simulated.empty())
        return Error{Fault::bad_input, "no bench is named", "--simulated",
                     "Name a simulation (docs/formats/simulation.md): drivers of instruments come later. "
                     "--dry-run shows what would be sent"};
    auto files = work::read_simulation(options.simulated);
    if (!files) return files.error();
    bench::SimulatedBench::Options how;
    how.seed = options.seed;
    how.pace = options.pace == "real" ? bench::Pace::real : bench::Pace::fast;
    out.ahead_of_time = how.pace == bench::Pace::fast;
    auto simulated = bench::SimulatedBench::open(files->simulation, believed, how);
    if (!simulated) return simulated.error();
    auto hands = std::make_shared<SimulatedHands>();
    hands->simulation = std::move(files->simulation);
    hands->bench = simulated->get();
    hands->asks = options.ask;
    out.bench = std::move(simulated).value();
    out.person.ask = [hands](const work::Question& question) { return hands->answer(question); };
    out.person.stop = asked_to_end;
    out.person.pause = [hands] { return hands->pause(); };
    return out;
}

work::DriveSinks DrivingLines::sinks() {
    work::DriveSinks sinks;
    if (json_) {
        sinks.line = [](const nlohmann::json& line) {
            fmt::print("{}\n", line.dump());
            std::fflush(stdout);
        };
        return sinks;
    }
    sinks.happening = [this](const bench::Happening& one) { happening(one); };
    sinks.run = [this](const work::DrivenRun& one) { run(one); };
    sinks.say = [](const std::string& words) {
        fmt::print("{}\n", wrapped(words, screen, 0));
        std::fflush(stdout);
    };
    return sinks;
}

void DrivingLines::happening(const bench::Happening& one) const {
    using Kind = bench::Happening::Kind;
    if (one.kind == Kind::command && !commands_) return;
    const std::string words = bench::words_of(one);
    if (words.empty()) return;
    const char* mark = one.kind == Kind::command                            ? "> "
                       : one.kind == Kind::phase || one.kind == Kind::waits ? "  "
                                                                            : "! ";
    print_behind(fmt::format("{:>8} s {}", fixed_text(one.bench_s, 2), mark), words);
    std::fflush(stdout);
}

void DrivingLines::run(const work::DrivenRun& run) {
    ++runs_;
    const auto volts = [](const std::optional<double>& value) {
        return value ? fixed_text(*value, 0) + " V" : std::string("not read");
    };
    fmt::print("run {}  {}\n", runs_, run.key.label());
    if (run.kept) {
        print_behind(run.kept->counts ? "  ● " : "  ○ ", short_levels(run.kept->run.figures));
        for (const plan::Flag& flag : run.kept->run.flags)
            if (flag.consequence != plan::Consequence::note)
                print_behind("    ", fmt::format("{} {}: {}", plan::name_of(flag.consequence),
                                                 plan::facts(flag.code).name, flag.message));
    }
    print_behind("    ", fmt::format("zero {}, residual {}, held {}", volts(run.zero_V),
                                     volts(run.residual_V), volts(run.held_V)));
    if (!run.file.empty()) fmt::print("    {}\n", run.file);
    if (!run.words.empty()) print_behind("  ! ", run.words);
    std::fflush(stdout);
}

}  // namespace ebbtide::cli
