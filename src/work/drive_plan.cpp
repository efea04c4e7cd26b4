#include "work/drive_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "lanes/random.hpp"

namespace ebbtide::work {
namespace {

constexpr std::uint64_t purpose_of_sequence = 0x5e01;

Error cannot_drive(std::string what, std::string where, std::string remedy) {
    return {Fault::bad_input, std::move(what), std::move(where), std::move(remedy)};
}

/// What every run of the order has in common; polarity comes with its place.
Result<bench::RunAim> aim_of(const plan::Method& method, const plan::Bench& bench, const std::string& where) {
    const plan::DriveLimits& limits = *bench.drive;
    bench::RunAim aim;
    if (!method.charging.voltage_V)
        return cannot_drive("the method states no charging voltage", where,
                            "Driving needs one: charging.voltage_V");
    aim.voltage_V = method.charging.voltage_V->nominal;
    if (!method.charging.hold_s && limits.hold_s <= 0)
        return cannot_drive("neither the method nor the bench states a charging time", where,
                            "State charging.hold_s in the method or drive.hold_s in the bench file");
    aim.hold_s = method.charging.hold_s.value_or(limits.hold_s);
    if (aim.hold_s > limits.longest_charge_s)
        return cannot_drive(fmt::format("the method charges for {} s, the bench may for {} s at most",
                                        aim.hold_s, limits.longest_charge_s),
                            where, "See drive.longest_charge_s of the bench file");
    // A stated charging time is kept; where there is none, a slow specimen is waited for.
    aim.longest_charge_s = method.charging.hold_s ? aim.hold_s : limits.longest_charge_s;
    aim.minimum_initial_V = method.charging.minimum_initial_V;
    aim.minimum_accepted_fraction = method.charging.minimum_accepted_fraction;
    aim.zero_limit_V = method.decay.zero_limit_V;
    aim.residual_limit_V = method.decay.residual_limit_V;
    aim.end_fraction = 1;
    for (const plan::Level& level : method.decay.levels) {
        if (level.kind == plan::Level::Kind::absolute_V)
            aim.end_V = aim.end_V > 0 ? std::min(aim.end_V, level.value) : level.value;
        else if (level.value > 0)
            aim.end_fraction = std::min(aim.end_fraction, level.value);
    }
    const plan::ZeroFloor& floor = method.decay.zero_floor;
    if (floor.kind == plan::ZeroFloor::Kind::fraction)
        aim.end_fraction = std::min(aim.end_fraction, floor.value);
    if (floor.kind == plan::ZeroFloor::Kind::absolute_V) aim.end_V = floor.value;
    // Both kinds: the lower of the two ends the record.
    if (aim.end_fraction == 1)
        aim.end_fraction = aim.end_V > 0 ? 0 : 0.1;
    else if (aim.end_V > 0)
        aim.end_V = std::min(aim.end_V, aim.end_fraction * aim.voltage_V);
    return aim;
}

void alternate(std::vector<OpenPlace>& mounting) {
    std::vector<OpenPlace> turns[2];
    for (OpenPlace& place : mounting)
        turns[place.key.polarity == mounting.front().key.polarity ? 0 : 1].push_back(place);
    std::vector<OpenPlace> out;
    for (std::size_t i = 0; i < std::max(turns[0].size(), turns[1].size()); ++i)
        for (const auto& turn : turns)
            if (i < turn.size()) out.push_back(turn[i]);
    mounting = std::move(out);
}

/// Fisher and Yates, drawn from the seed and the first file's place among all.
void shuffle(std::vector<OpenPlace>& mounting, std::uint64_t seed, std::uint64_t first) {
    for (std::size_t i = mounting.size(); i > 1; --i) {
        std::array<std::uint32_t, 4> words{};
        lanes::random_words({seed, purpose_of_sequence}, first + i, words);
        // The remainder's bias of i / 2^64 is none that a test could see.
        const std::uint64_t draw = (std::uint64_t{words[0]} << 32 | words[1]) % i;
        std::swap(mounting[i - 1], mounting[draw]);
    }
}

}  // namespace

std::string_view name_of(Sequence sequence) {
    switch (sequence) {
        case Sequence::planned:
            return "planned";
        case Sequence::alternated:
            return "alternated";
        case Sequence::randomised:
            return "randomised";
    }
    return "";
}

std::optional<Sequence> sequence_named(std::string_view name) {
    for (const Sequence one : {Sequence::planned, Sequence::alternated, Sequence::randomised})
        if (name_of(one) == name) return one;
    return {};
}

Result<std::vector<OpenPlace>> open_places(const std::vector<PlanPlace>& places, const plan::Method& method,
                                           const plan::Bench& bench, Sequence sequence, std::uint64_t seed) {
    if (!bench.drive)
        return cannot_drive("the bench file has no table [drive]: how it may be driven is not known",
                            bench.id, "docs/formats/bench.md explains the table");
    if (bench.apparatus != plan::Apparatus::clamp_discharge)
        return cannot_drive("only a bench with clamps can be driven", bench.id, "Use 'listen' or 'measure'");
    if (!bench.channels.marker.empty())
        return cannot_drive("the bench file names a channel of a release marker, and driving records none",
                            bench.id, "Take channels.marker out: the electrode shows the release");
    const auto common = aim_of(method, bench, method.id);
    if (!common) return common.error();

    std::vector<std::vector<OpenPlace>> mountings;
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (places[i].filled) continue;
        OpenPlace place{i, places[i].key, false, *common};
        place.aim.polarity = place.key.polarity;
        const auto same = [&](const OpenPlace& other) {
            return other.key.specimen == place.key.specimen && other.key.face == place.key.face &&
                   other.key.conditions == place.key.conditions;
        };
        if (mountings.empty() || !same(mountings.back().front())) mountings.emplace_back();
        mountings.back().push_back(std::move(place));
    }
    std::vector<OpenPlace> out;
    for (std::vector<OpenPlace>& mounting : mountings) {
        const std::uint64_t first = 4096 * mounting.front().place;
        if (sequence == Sequence::alternated) alternate(mounting);
        if (sequence == Sequence::randomised) shuffle(mounting, seed, first);
        for (std::size_t i = 0; i < mounting.size(); ++i) {
            mounting[i].mount = i == 0;
            out.push_back(std::move(mounting[i]));
        }
    }
    return out;
}

}  // namespace ebbtide::work
