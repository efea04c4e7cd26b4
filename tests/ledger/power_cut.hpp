#pragma once
// What may lie on a disk after a power cut, made from what was asked of it before.

#include <algorithm>
#include <random>
#include <string_view>

#include "ledger/recorded_disk.hpp"

namespace ebbtide::testing_support {

/// What a disk holds for certain after some events, and what it may or may not hold as well.
class Disk {
  public:
    void apply(const DiskEvent& event);

    /// Files by name as they may lie there after a power cut now: all that was synced; of the rest, each
    /// sector of 512 bytes, each growth, cut and each new or removed name by chance.
    [[nodiscard]] std::map<std::string, std::string> after_power_cut(std::mt19937_64& random) const;

  private:
    using What = DiskEvent::What;
    struct File {
        std::string synced;
        std::vector<DiskEvent> open;  ///< writes and truncations since
    };
    struct Name {
        std::size_t file = 0;
        bool there = false;
    };
    static void set_size(std::string& content, std::uint64_t size) {
        content.resize(static_cast<std::size_t>(size), '\0');
    }
    static void put(std::string& content, std::uint64_t place, std::string_view bytes) {
        if (content.size() < place + bytes.size()) set_size(content, place + bytes.size());
        content.replace(static_cast<std::size_t>(place), bytes.size(), bytes);
    }
    std::map<std::size_t, File> files_;
    std::map<std::string, Name> synced_names_;
    std::map<std::string, std::vector<Name>> open_names_;
};

inline void Disk::apply(const DiskEvent& event) {
    switch (event.what) {
        case What::write:
        case What::truncate:
            files_[event.file].open.push_back(event);
            break;
        case What::sync: {
            File& file = files_[event.file];
            for (const DiskEvent& done : file.open)
                if (done.what == What::write)
                    put(file.synced, done.place, done.bytes);
                else
                    set_size(file.synced, done.place);
            file.open.clear();
            break;
        }
        case What::create:
        case What::remove:
            open_names_[event.name].push_back({event.file, event.what == What::create});
            break;
        case What::sync_folder:
            for (const auto& [name, changes] : open_names_) synced_names_[name] = changes.back();
            open_names_.clear();
            break;
    }
}

inline std::map<std::string, std::string> Disk::after_power_cut(std::mt19937_64& random) const {
    constexpr std::uint64_t sector = 512;
    // Some cuts come when nearly all had reached the disk, some when nearly nothing had.
    const std::uint64_t share = random() % 101;
    const auto reached = [&] { return random() % 100 < share; };

    std::map<std::string, Name> names = synced_names_;
    for (const auto& [name, changes] : open_names_) {
        const std::size_t count = random() % (changes.size() + 1);
        if (count > 0) names[name] = changes[count - 1];
    }
    std::map<std::string, std::string> found;
    for (const auto& [name, entry] : names) {
        if (!entry.there) continue;
        std::string& content = found[name];
        const auto file = files_.find(entry.file);
        if (file == files_.end()) continue;
        content = file->second.synced;
        for (const DiskEvent& event : file->second.open) {
            if (event.what == What::truncate) {
                if (reached()) set_size(content, event.place);
                continue;
            }
            for (std::uint64_t at = 0; at < event.bytes.size();) {
                const std::uint64_t count =
                    std::min(sector - (event.place + at) % sector, event.bytes.size() - at);
                if (reached())
                    put(content, event.place + at, std::string_view(event.bytes).substr(at, count));
                at += count;
            }
        }
        // Data may be there and the size that shows it not.
        if (content.size() > file->second.synced.size() && !reached())
            set_size(content, file->second.synced.size());
    }
    return found;
}

}  // namespace ebbtide::testing_support
