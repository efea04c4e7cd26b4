#include "work/order_files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <set>

#include "paperwork/paperwork.hpp"
#include "recording/natural_order.hpp"
#include "work/retention.hpp"

namespace ebbtide::work {
namespace {

constexpr std::uint64_t largest_document = 4u << 20;
Error no_shipped(const std::string& id) {
    std::string known;
    for (const paperwork::Shipped& one : paperwork::shipped()) known += (known.empty() ? "" : ", ") + one.id;
    return {Fault::bad_input, fmt::format("no method or specification '{}' is shipped", id), "",
            fmt::format("Name a file of the order's folder (ending in .toml) or one of: {}", known)};
}

Result<std::string> built_in(const std::string& id) {
    for (const paperwork::Shipped& one : paperwork::shipped())
        if (one.id == id) return one.toml;
    return no_shipped(id);
}

std::vector<std::string> in_natural_order(std::vector<std::string> names) {
    std::ranges::sort(names, recording::natural_less);
    return names;
}

class Folder : public OrderFiles {
  public:
    explicit Folder(std::string folder) : folder_(std::move(folder)) {}
    std::string place() const override { return folder_; }

    Result<std::string> text(const std::string& name) const override { return bytes(name, largest_document); }
    Result<std::string> bytes(const std::string& name, std::uint64_t at_most) const override {
        auto path = path_of(name);
        if (!path) return path.error();
        return read_whole(*path, at_most);
    }
    std::uint64_t size(const std::string& name) const override {
        auto path = path_of(name);
        std::error_code fault;
        if (!path || !std::filesystem::is_regular_file(*path, fault)) return 0;
        const std::uint64_t size = std::filesystem::file_size(*path, fault);
        return fault ? 0 : size;
    }
    bool keeps_only_runs_of(const std::string&) const override { return false; }
    Result<std::string> shipped_text(const std::string& id) const override { return built_in(id); }
    Result<std::unique_ptr<recording::Source>> recording(
        const std::string& name, const recording::ReadOptions& options) const override {
        auto path = path_of(name);
        if (!path) return path.error();
        return recording::open(*path, options);
    }

    bool has_folder(const std::string& name) const override {
        auto path = path_of(name);
        std::error_code fault;
        return path &&
               std::filesystem::symlink_status(*path, fault).type() != std::filesystem::file_type::not_found;
    }
    Result<std::vector<std::string>> files_in(const std::string& name) const override {
        auto path = path_of(name);
        if (!path) return path.error();
        auto names = names_in(*path);
        if (!names) return names.error();
        for (const std::string& file : *names)
            if (leads_out(*path + "/" + file))
                return Error{Fault::bad_input,
                             fmt::format("'{}/{}' is a link out of the order's folder", name, file), folder_,
                             "Copy the file there: a report attaches it under this name"};
        return names;
    }

  private:
    bool leads_out(const std::string& path) const {
        std::error_code fault;
        const auto home = std::filesystem::canonical(folder_, fault);
        const auto file = std::filesystem::canonical(path, fault);
        return fault || std::ranges::mismatch(home, file).in1 != home.end();
    }
    Result<std::string> path_of(const std::string& name) const {
        const std::filesystem::path relative = std::filesystem::path(name).lexically_normal();
        if (relative.empty() || relative.is_absolute() || *relative.begin() == "..")
            return Error{Fault::bad_input, fmt::format("'{}' leads out of the order's folder", name), folder_,
                         "Keep an order's files in its folder: a report attaches them under these names"};
        return (std::filesystem::path(folder_) / relative).string();
    }
    std::string folder_;
};

class Attached : public OrderFiles {
  public:
    explicit Attached(std::vector<report::Attachment> attachments) : attachments_(std::move(attachments)) {}
    std::string place() const override { return "attachments"; }

    Result<std::string> text(const std::string& name) const override {
        const auto found = find(name);
        if (found == attachments_.end())
            return Error{Fault::unreadable, fmt::format("'{}' is not attached", name), "report",
                         "The report was changed or not made by this program"};
        return found->bytes;
    }
    Result<std::string> bytes(const std::string& name, std::uint64_t) const override { return text(name); }
    bool has_folder(const std::string& folder) const override {
        return std::ranges::any_of(attachments_, [&](const report::Attachment& attachment) {
            return attachment.name.starts_with(folder + "/");
        });
    }
    Result<std::vector<std::string>> files_in(const std::string& folder) const override {
        // Where only a recording's runs are attached, it is still the recording that lies in the folder.
        const std::string below = folder + "/", runs = kept_runs_name("");
        std::set<std::string> names;
        for (const report::Attachment& attachment : attachments_) {
            std::string name = attachment.name;
            if (!name.starts_with(below) || name.find('/', below.size()) != std::string::npos) continue;
            if (name.ends_with(runs)) name.resize(name.size() - runs.size());
            names.insert(name.substr(below.size()));
        }
        return in_natural_order({names.begin(), names.end()});
    }
    std::uint64_t size(const std::string&) const override { return 0; }
    bool keeps_only_runs_of(const std::string& name) const override {
        return find(name) == attachments_.end() && find(kept_runs_name(name)) != attachments_.end();
    }
    Result<std::string> shipped_text(const std::string& id) const override {
        const auto found = std::ranges::find(attachments_, shipped_name(id), &report::Attachment::name);
        return found == attachments_.end() ? built_in(id) : Result<std::string>(found->bytes);
    }
    Result<std::unique_ptr<recording::Source>> recording(
        const std::string& name, const recording::ReadOptions& options) const override {
        auto bytes = text(name);
        if (!bytes) return bytes.error();
        return recording::open_bytes(std::move(bytes).value(), name, options);
    }

  private:
    [[nodiscard]] std::vector<report::Attachment>::const_iterator find(const std::string& name) const {
        return std::ranges::find(attachments_, name, &report::Attachment::name);
    }
    std::vector<report::Attachment> attachments_;
};

/// An order's files and one beside them.
class WithFile : public OrderFiles {
  public:
    WithFile(std::unique_ptr<OrderFiles> order, std::string name, std::string text)
        : order_(std::move(order)), name_(std::move(name)), text_(std::move(text)) {}
    std::string place() const override { return order_->place(); }
    Result<std::string> text(const std::string& name) const override {
        return name == name_ ? Result<std::string>(text_) : order_->text(name);
    }
    Result<std::string> bytes(const std::string& name, std::uint64_t at_most) const override {
        return order_->bytes(name, at_most);
    }
    std::uint64_t size(const std::string& name) const override { return order_->size(name); }
    bool has_folder(const std::string& folder) const override { return order_->has_folder(folder); }
    Result<std::vector<std::string>> files_in(const std::string& folder) const override {
        return order_->files_in(folder);
    }
    bool keeps_only_runs_of(const std::string& name) const override {
        return order_->keeps_only_runs_of(name);
    }
    Result<std::string> shipped_text(const std::string& id) const override {
        return order_->shipped_text(id);
    }
    Result<std::unique_ptr<recording::Source>> recording(
        const std::string& name, const recording::ReadOptions& options) const override {
        return order_->recording(name, options);
    }

  private:
    std::unique_ptr<OrderFiles> order_;
    std::string name_, text_;
};

}  // namespace

Result<std::unique_ptr<OrderFiles>> order_files_at(const std::string& place) {
    std::error_code ignored;
    if (!std::filesystem::is_regular_file(place, ignored)) return folder_files(place);
    const auto bytes = read_whole(place, largest_report);
    if (!bytes) return bytes.error();
    auto attachments = report::attachments_of_pdf(*bytes);
    if (!attachments) {
        Error error = attachments.error();
        error.where = place;
        error.remedy = "Give the folder that holds order.toml, or a PDF report written by this program";
        return error;
    }
    return attached_files(std::move(attachments).value());
}

std::unique_ptr<OrderFiles> with_file(std::unique_ptr<OrderFiles> order, std::string name, std::string text) {
    return std::make_unique<WithFile>(std::move(order), std::move(name), std::move(text));
}

std::unique_ptr<OrderFiles> folder_files(std::string folder) {
    return std::make_unique<Folder>(std::move(folder));
}

std::unique_ptr<OrderFiles> attached_files(std::vector<report::Attachment> attachments) {
    return std::make_unique<Attached>(std::move(attachments));
}

std::string shipped_name(const std::string& id) {
    return "methods/" + id + ".toml";
}

Result<std::vector<std::string>> names_in(const std::string& folder) {
    std::error_code fault;
    std::vector<std::string> names;
    std::filesystem::directory_iterator entry(folder, fault);
    for (; !fault && entry != std::filesystem::directory_iterator(); entry.increment(fault)) {
        const std::string name = entry->path().filename().string();
        std::error_code ignored;
        if (!name.starts_with('.') && !entry->is_directory(ignored)) names.push_back(name);
    }
    if (fault)
        return Error{Fault::unreadable, "is no folder that can be read: " + fault.message(), folder,
                     "Check the name and the permission to read it"};
    return in_natural_order(std::move(names));
}

Result<std::string> read_whole(const std::string& path, std::uint64_t at_most) {
    const Error cannot{Fault::unreadable, "cannot be read", path,
                       "Check the name and the permission to read it"};
    std::error_code fault;
    if (!std::filesystem::is_regular_file(path, fault)) return cannot;
    const std::uint64_t size = std::filesystem::file_size(path, fault);
    if (fault) return cannot;
    if (size > at_most)
        return Error{Fault::bad_input, fmt::format("{} bytes, at most {} are read", size, at_most), path,
                     "Check that it is the file you mean"};
    std::ifstream file(path, std::ios::binary);
    std::string bytes(size, '\0');
    if (!file.read(bytes.data(), static_cast<std::streamsize>(size))) return cannot;
    return bytes;
}

}  // namespace ebbtide::work
