#include "server/order_folders.hpp"

#include <algorithm>
#include <filesystem>

#include "paperwork/paperwork.hpp"
#include "recording/natural_order.hpp"
#include "work/order_files.hpp"

namespace ebbtide::server {

namespace fs = std::filesystem;

Result<std::vector<OrderFolder>> order_folders(const std::string& served) {
    std::vector<OrderFolder> found;
    std::error_code fault, none;
    const auto add = [&](const fs::path& folder) {
        const std::string key = folder.filename().string();
        if (!key.empty() && key.front() != '.' && fs::is_regular_file(folder / "order.toml", none))
            found.push_back({key, folder.string()});
    };
    add(fs::weakly_canonical(served, none));
    for (fs::directory_iterator it(served, fault), end; !fault && it != end; it.increment(fault))
        if (it->is_directory(none)) add(it->path());
    if (fault)
        return Error{Fault::unreadable, "cannot be read: " + fault.message(), served,
                     "Check that the folder is there and readable"};
    std::ranges::sort(found, [](const OrderFolder& a, const OrderFolder& b) {
        return recording::natural_less(a.key, b.key);
    });
    return found;
}

std::map<std::string, std::vector<std::string>> keys_by_order_id(const std::string& served) {
    constexpr std::uint64_t most_bytes = 1 << 20;
    std::map<std::string, std::vector<std::string>> keys;
    const auto folders = order_folders(served);
    if (!folders) return keys;
    for (const OrderFolder& at : *folders) {
        const auto text = work::read_whole(at.folder + "/order.toml", most_bytes);
        if (!text) continue;
        if (const auto order = paperwork::parse_order(*text, "order.toml")) keys[order->id].push_back(at.key);
    }
    return keys;
}

}  // namespace ebbtide::server
