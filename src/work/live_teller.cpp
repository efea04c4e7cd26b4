#include "work/live_teller.hpp"

#include "work/documents_to_drive.hpp"
#include "work/run_recording.hpp"

namespace ebbtide::work {
namespace {

std::vector<LiveGuard> guards_in_words(const std::vector<bench::GuardSeen>& guards) {
    std::vector<LiveGuard> out;
    for (const bench::GuardSeen& one : guards)
        out.push_back({std::string(bench::name_of(one.guard)), std::string(bench::words_of(one.guard)),
                       std::string(bench::remedy_of(one.guard)), one.met});
    return out;
}

/// CommandSent or CommandRefused.
template <typename Event>
Event command_event(const bench::Happening& one) {
    const bench::Command command = one.command.value_or(bench::Command{});
    Event out;
    out.phase = bench::name_of(one.phase);
    out.command = bench::name_of(command.action);
    if (command.action == bench::Action::set_voltage) out.voltage_V = command.voltage_V;
    out.words = bench::words_of(one);
    out.bench_s = one.bench_s;
    return out;
}

}  // namespace

LiveTeller::LiveTeller(const std::vector<LiveSink>& sinks, const plan::Bench& bench)
    : sinks_(sinks), name_(bench.id), channels_(driven_channels(bench)), scales_(scales_of(bench)) {
    block_.channels.resize(2);
}

void LiveTeller::tell(const LiveEvent& event) const {
    for (const LiveSink& sink : sinks_) sink(event);
}

void LiveTeller::opened() const {
    tell(SourceOpened{name_, "driven bench", "the bench's own two channels, in volts", "", channels_});
}

void LiveTeller::happening(const bench::Happening& one) const {
    const std::string phase(bench::name_of(one.phase)), words = bench::words_of(one);
    switch (one.kind) {
        case bench::Happening::Kind::phase:
            return tell(PhaseEntered{phase, std::string(bench::name_of(one.event)), words,
                                     guards_in_words(one.guards), one.bench_s, one.lasts_s});
        case bench::Happening::Kind::waits:
            return tell(GuardsChanged{phase, words, guards_in_words(one.guards), one.bench_s});
        case bench::Happening::Kind::command:
            return tell(command_event<CommandSent>(one));
        case bench::Happening::Kind::refused:
            return tell(command_event<CommandRefused>(one));
        case bench::Happening::Kind::found:
            return tell(BenchFound{true, words, one.bench_s});
        case bench::Happening::Kind::live:
            return tell(MayBeLive{phase, words, one.bench_s});
    }
}

void LiveTeller::look(const bench::Observation& seen) {
    const auto fill = [&](recording::ChannelBlock& into, const std::vector<double>& recorded,
                          const plan::VoltageScale& scale) {
        into.time_s.clear();
        into.value.clear();
        for (std::size_t i = 0; i < recorded.size(); ++i) {
            into.time_s.push_back(seen.from_s + static_cast<double>(i) * seen.sample_interval_s);
            into.value.push_back(scale.volts(recorded[i]));
        }
    };
    fill(block_.channels[0], seen.specimen, scales_.specimen);
    fill(block_.channels[1], seen.electrode, scales_.electrode);
    frames_.take(block_, [this](const Frame& frame) { tell(frame); });
}

Answer LiveTeller::ask(const Person& person, Question question, const std::string& who, double bench_s) {
    question.number = ++questions_;
    tell(QuestionAsked{question, bench_s});
    const Answer answer = person.ask(question);
    tell(QuestionAnswered{std::move(question), answer, who, bench_s});
    return answer;
}

}  // namespace ebbtide::work
