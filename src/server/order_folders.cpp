#include "server/order_folders.hpp"

#include <algorithm>
#include <filesystem>

#include "recording/natural_order.hpp"

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

}  // namespace ebbtide::server
