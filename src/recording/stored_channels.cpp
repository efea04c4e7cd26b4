#include "recording/stored_channels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "recording/cells.hpp"
#include "recording/headings.hpp"

namespace ebbtide::recording {
namespace {

using trace::ChannelDescription;
using trace::Quantity;

std::string shown(const std::vector<ChannelDescription>& channels) {
    std::string seen;
    for (const ChannelDescription& channel : channels)
        seen +=
            fmt::format("{}{}'{}'", seen.empty() ? "" : ", ",
                        channel.column > 0 ? fmt::format("column {} ", channel.column) : "", channel.heading);
    return seen;
}

std::vector<std::size_t> named(const std::vector<ChannelDescription>& channels, const std::string& text) {
    const std::string wanted = lowered(trimmed(text));
    std::vector<std::size_t> found;
    const auto collect = [&](const auto& matches) {
        for (std::size_t c = 0; c < channels.size(); ++c)
            if (matches(c)) found.push_back(c);
    };
    collect([&](std::size_t c) { return lowered(trimmed(channels[c].heading)) == wanted; });
    if (!found.empty()) return found;
    collect([&](std::size_t c) { return lowered(read_heading(channels[c].heading).name) == wanted; });
    if (!found.empty()) return found;
    int number = 0;
    const auto [end, fault] = std::from_chars(wanted.data(), wanted.data() + wanted.size(), number);
    if (fault != std::errc{} || end != wanted.data() + wanted.size()) return found;
    const bool numbered = std::ranges::any_of(channels, [](const auto& c) { return c.column > 0; });
    collect(
        [&](std::size_t c) { return (numbered ? channels[c].column : static_cast<int>(c) + 1) == number; });
    return found;
}

}  // namespace

std::optional<Error> name_channels(std::vector<ChannelDescription>& channels, const ReadOptions& options,
                                   const std::string& file) {
    std::vector<std::size_t> taken;
    for (const auto& [text, option, quantity] :
         {std::tuple{&options.specimen, "specimen", Quantity::specimen_voltage},
          std::tuple{&options.electrode, "electrode", Quantity::electrode_voltage},
          std::tuple{&options.marker, "marker", Quantity::release_marker}}) {
        if (text->empty()) continue;
        const auto refuse = [&, option = option, text = text](const std::string& what) {
            return Error{Fault::bad_input,
                         fmt::format("--{} {} names {}. Seen: {}", option, *text, what, shown(channels)),
                         file,
                         fmt::format("Give --{} a heading as it stands above, or a column number", option)};
        };
        const std::vector<std::size_t> found = named(channels, *text);
        if (found.size() != 1)
            return refuse(found.empty() ? "no channel" : fmt::format("{} channels", found.size()));
        if (std::ranges::find(taken, found[0]) != taken.end())
            return refuse("a channel that another option names too");
        taken.push_back(found[0]);
        for (std::size_t c = 0; c < channels.size(); ++c)
            if (channels[c].quantity == quantity && std::ranges::find(taken, c) == taken.end())
                channels[c].quantity = Quantity::other;
        channels[found[0]].quantity = quantity;
    }
    return {};
}

}  // namespace ebbtide::recording
