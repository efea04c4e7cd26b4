#include "work/expand_folders.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>
#include <set>

#include "plan/name_pattern.hpp"

namespace ebbtide::work {
namespace {

using plan::NamePattern;

class Expansion {
  public:
    Expansion(plan::Order& order, const OrderFiles& files) : order_(order), files_(files) {
        for (const plan::PlannedRecording& recording : order.recordings) {
            listed_.insert(recording.file);
            for (const plan::PlannedRun& run : recording.runs) taken_.emplace(run.key, recording.file);
        }
    }

    std::optional<Error> run() {
        for (const plan::RecordingFolder& folder : order_.folders)
            if (auto error = expand(folder)) return error;
        if (problems_.empty()) return std::nullopt;
        constexpr std::size_t most_shown = 50;
        const std::size_t shown = std::min(problems_.size(), most_shown);
        std::string text = fmt::format(
            "{}", fmt::join(problems_.begin(), problems_.begin() + static_cast<std::ptrdiff_t>(shown), "\n"));
        if (problems_.size() > shown) text += fmt::format("\n... and {} more", problems_.size() - shown);
        return Error{Fault::bad_input, std::move(text), "", ""};
    }

  private:
    std::optional<Error> expand(const plan::RecordingFolder& folder) {
        const auto pattern = NamePattern::parse(folder.names);
        if (!pattern) return pattern.error();
        const auto names = files_.files_in(folder.folder);
        if (!names) return names.error();
        if (names->empty())
            return Error{Fault::bad_input, fmt::format("the folder '{}' holds no files", folder.folder),
                         fmt::format("order.toml:{}", folder.line),
                         "Put the recordings there, or name their folder"};
        for (const std::string& name : *names) {
            const std::string file = folder.folder + "/" + name;
            if (listed_.contains(file)) continue;
            if (const auto key = key_of(folder, *pattern, name, file)) plan(folder, file, *key);
        }
        return std::nullopt;
    }

    std::optional<plan::RunKey> key_of(const plan::RecordingFolder& folder, const NamePattern& pattern,
                                       const std::string& name, const std::string& file) {
        const auto readings = pattern.readings(name, [this](const NamePattern::Reading& reading) {
            return (!reading.specimen || order_.specimen(*reading.specimen) != nullptr) &&
                   (!reading.conditions || order_.condition(*reading.conditions) != nullptr);
        });
        if (readings.empty()) {
            const auto strange = pattern.readings(name);
            if (strange.empty())
                problem(folder, file, fmt::format("its name does not fit '{}'", folder.names),
                        "Rename it, list it under [[recording]], or move it out of the folder");
            else
                tell_strange(folder, file, strange.front());
            return std::nullopt;
        }
        if (readings.size() > 1) {
            problem(folder, file,
                    fmt::format("its name fits '{}' in two ways: {} or {}", folder.names,
                                key_with(folder, readings[0]).label(), key_with(folder, readings[1]).label()),
                    "Change the pattern so that only one is left, or list the file under [[recording]]");
            return std::nullopt;
        }
        return key_with(folder, readings.front());
    }

    static plan::RunKey key_with(const plan::RecordingFolder& folder, const NamePattern::Reading& reading) {
        plan::RunKey key = folder.key;
        if (reading.specimen) key.specimen = *reading.specimen;
        if (reading.face) key.face = *reading.face;
        if (reading.conditions) key.conditions = *reading.conditions;
        if (reading.polarity) key.polarity = *reading.polarity;
        if (reading.replicate) key.replicate = *reading.replicate;
        return key;
    }

    void tell_strange(const plan::RecordingFolder& folder, const std::string& file,
                      const NamePattern::Reading& reading) {
        if (reading.specimen && order_.specimen(*reading.specimen) == nullptr)
            problem(folder, file, fmt::format("no [[specimen]] has the id '{}'", *reading.specimen),
                    "Describe the specimen, rename the file, or move it out of the folder");
        else
            problem(folder, file,
                    fmt::format("no [[conditions]] have the id '{}'", reading.conditions.value_or("")),
                    "Describe the conditions, rename the file, or move it out of the folder");
    }

    void plan(const plan::RecordingFolder& folder, const std::string& file, const plan::RunKey& key) {
        const auto [place, is_new] = taken_.emplace(key, file);
        if (!is_new)
            return problem(folder, file, fmt::format("is the run '{}', as {} is", key.label(), place->second),
                           "Count up the replicate in the name of one; list a retest under [[recording]] "
                           "with its cause");
        plan::PlannedRecording recording;
        recording.file = file;
        recording.runs.push_back({key, "", ""});
        recording.channels = folder.channels;
        recording.sample_interval_s = folder.sample_interval_s;
        recording.line = folder.line;
        order_.recordings.push_back(std::move(recording));
    }

    void problem(const plan::RecordingFolder& folder, const std::string& file, const std::string& what,
                 const std::string& remedy) {
        problems_.push_back(fmt::format("order.toml:{}: {}: {}. {}", folder.line, file, what, remedy));
    }

    plan::Order& order_;
    const OrderFiles& files_;
    std::set<std::string> listed_;               // files that [[recording]] names
    std::map<plan::RunKey, std::string> taken_;  // whose run it is
    std::vector<std::string> problems_;
};

}  // namespace

std::optional<Error> expand_folders(plan::Order& order, const OrderFiles& files) {
    return Expansion(order, files).run();
}

}  // namespace ebbtide::work
