#include "work/bench_at_hand.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "basis/number_text.hpp"
#include "bench/rehearsal_bench.hpp"
#include "work/bench_standing.hpp"
#include "work/documents_to_drive.hpp"
#include "work/drive_log.hpp"
#include "work/simulate.hpp"

namespace ebbtide::work {
namespace {

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

struct SimulatedHands {
    plan::Simulation simulation;
    bench::SimulatedBench* bench = nullptr;
    BenchAtHandRequest asked;
    bool paused = false;
    std::string tried_again;

    bool pause() { return paused = asked.pause && asked.pause(); }

    Answer answer(const Question& question) {
        using Kind = Question::Kind;
        const bool to_person = asked.ask && (asked.asks_all || (paused && question.kind == Kind::leave));
        const Answer answer = to_person ? asked.ask(question) : by_themselves(question);
        paused = false;
        if (question.kind == Kind::look) bench->reset_source();
        if (answer != Answer::done || question.kind != Kind::mount) return answer;
        const std::string name = question.mounted ? simulated_name(simulation, *question.mounted)
                                                  : question.key.value_or(plan::RunKey{}).specimen;
        const auto hung = bench->mount(name);
        if (!hung && asked.say) asked.say(hung.error().text());
        return hung ? Answer::done : Answer::stop;
    }

    Answer by_themselves(const Question& question) {
        if (question.kind != Question::Kind::look) return Answer::done;
        const std::string what = question.key ? question.key->label() : question.words;
        if (what == tried_again) return Answer::skip;
        tried_again = what;
        return Answer::done;
    }
};

}  // namespace

Result<bench::Pace> pace_named(std::string_view text) {
    if (text == "fast") return bench::Pace::fast;
    if (text == "real") return bench::Pace::real;
    const auto times = parse_number(text);
    if (!times || !(*times >= 0.01) || !(*times <= 1e6))
        return Error{Fault::bad_input, fmt::format("'{}' is no pace", text), "--pace",
                     "Say fast, real, or how many times as fast as a real bench (0.01 to 1e6)"};
    return bench::Pace{*times};
}

Result<BenchAtHand> bench_at_hand(const BenchAtHandRequest& request, const plan::Bench& believed) {
    BenchAtHand out;
    out.person.stop = request.stop;
    if (request.dry_run) {
        out.bench = std::make_unique<bench::RehearsalBench>(bench::Rehearsal{}, scales_of(believed));
        out.person.ask = [](const Question&) { return Answer::done; };
        return out;
    }
    if (request.simulated.empty())
        return Error{Fault::bad_input, "no bench is named", "--simulated",
                     "Name a simulation (docs/formats/simulation.md): drivers of instruments come later. "
                     "--dry-run shows what would be sent"};
    auto files = read_simulation(request.simulated);
    if (!files) return files.error();
    bench::SimulatedBench::Options how;
    how.seed = request.seed;
    how.pace = request.pace;
    out.ahead_of_time = !(how.pace.times > 0 && how.pace.times <= 1);
    auto simulated = bench::SimulatedBench::open(files->simulation, believed, how);
    if (!simulated) return simulated.error();
    auto hands = std::make_shared<SimulatedHands>();
    hands->simulation = std::move(files->simulation);
    hands->bench = simulated->get();
    hands->asked = request;
    out.bench = std::move(simulated).value();
    out.person.ask = [hands](const Question& question) { return hands->answer(question); };
    out.person.pause = [hands] { return hands->pause(); };
    return out;
}

Instant session_begin(const BenchAtHand& at_hand, const plan::Bench& bench, const std::string& order,
                      const std::string& bench_file, Instant now) {
    Instant begin = now;
    if (!at_hand.ahead_of_time) return begin;
    const auto behind = [&](Instant left) { begin = std::max(begin, left + Span::from_seconds(1)); };
    const auto folder = std::filesystem::path(bench_file).parent_path().string();
    for (const std::string& place : {order, bench_file.empty() ? order : folder.empty() ? "." : folder}) {
        if (place.empty()) continue;
        if (const auto checks = bench_checks_in(place, bench))
            for (const plan::BenchCheck& check : *checks) behind(check.at);
        std::ifstream log(place + "/" + drive_log_name);
        for (std::string line; std::getline(log, line);) {
            const auto parsed = nlohmann::json::parse(line, nullptr, false);
            if (!parsed.is_object() || !parsed.contains("at") || !parsed["at"].is_string()) continue;
            if (const auto at = parse_instant(parsed["at"].get<std::string>())) behind(*at);
        }
    }
    return begin;
}

}  // namespace ebbtide::work
