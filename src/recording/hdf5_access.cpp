#include "recording/hdf5_access.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>

#include "recording/bytes.hpp"
#include "recording/natural_order.hpp"

namespace ebbtide::recording::hdf5 {

namespace {

constexpr int most_dimensions = H5S_MAX_RANK;
// Deflate makes at most some 1,030 bytes out of one; the rest is for the last, padded chunk.
constexpr std::uint64_t most_inflation = 1'100, padding_bytes = std::uint64_t{1} << 22;

Handle attribute(hid_t object, const std::string& name) {
    if (H5Aexists(object, name.c_str()) <= 0) return {};
    return {H5Aopen(object, name.c_str(), H5P_DEFAULT), H5Aclose};
}

bool is_scalar(hid_t attribute) {
    const Handle space(H5Aget_space(attribute), H5Sclose);
    return space && H5Sget_simple_extent_npoints(space.id()) == 1;
}

bool is_number(hid_t type) {
    const H5T_class_t kind = H5Tget_class(type);
    return kind == H5T_INTEGER || kind == H5T_FLOAT;
}

/// Texts of fixed or of any length, read through `read`, cleaned and cut.
template <class Read>
std::optional<std::vector<std::string>> read_texts(hid_t type, hid_t space, std::size_t count, Read read) {
    std::vector<std::string> out;
    Handle memory(H5Tcopy(H5T_C_S1), H5Tclose);
    if (H5Tis_variable_str(type) > 0) {
        if (H5Tset_size(memory.id(), H5T_VARIABLE) < 0) return std::nullopt;
        H5Tset_cset(memory.id(), H5Tget_cset(type));
        std::vector<char*> texts(count, nullptr);
        if (read(memory.id(), texts.data()) < 0) return std::nullopt;
        for (const char* text : texts)
            out.push_back(text != nullptr ? readable({text, ::strnlen(text, longest_text)}) : "");
        H5Dvlen_reclaim(memory.id(), space, H5P_DEFAULT, texts.data());
        return out;
    }
    const std::size_t size = H5Tget_size(type);
    if (size == 0 || size > longest_text || count * size > (std::size_t{1} << 26)) return std::nullopt;
    if (H5Tset_size(memory.id(), size) < 0) return std::nullopt;
    H5Tset_cset(memory.id(), H5Tget_cset(type));
    H5Tset_strpad(memory.id(), H5T_STR_NULLPAD);
    std::string bytes(count * size, '\0');
    if (read(memory.id(), bytes.data()) < 0) return std::nullopt;
    for (std::size_t i = 0; i < count; ++i) {
        const char* text = bytes.data() + i * size;
        out.push_back(readable({text, ::strnlen(text, size)}));
    }
    return out;
}

}  // namespace

void settle() {
    H5dont_atexit();
    H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
    H5PLset_loading_state(0);
}

Handle open_group(hid_t parent, const std::string& name) {
    if (!holds(parent, name)) return {};
    return {H5Gopen2(parent, name.c_str(), H5P_DEFAULT), H5Gclose};
}

bool holds(hid_t group, const std::string& name) {
    if (H5Lexists(group, name.c_str(), H5P_DEFAULT) <= 0) return false;
    H5L_info_t info{};
    return H5Lget_info(group, name.c_str(), &info, H5P_DEFAULT) >= 0 && info.type == H5L_TYPE_HARD;
}

std::vector<std::string> names_in(hid_t group, std::size_t most) {
    std::vector<std::string> names;
    struct Gathered {
        std::vector<std::string>& names;
        std::size_t most;
    } gathered{names, most};
    const auto gather = [](hid_t, const char* name, const H5L_info_t* info, void* data) -> herr_t {
        auto& into = *static_cast<Gathered*>(data);
        if (info->type == H5L_TYPE_HARD) into.names.emplace_back(name);
        return into.names.size() >= into.most ? 1 : 0;
    };
    H5Literate(group, H5_INDEX_NAME, H5_ITER_NATIVE, nullptr, gather, &gathered);
    std::ranges::sort(names, natural_less);
    return names;
}

bool is_group(hid_t parent, const std::string& name) {
    const Handle object(H5Oopen(parent, name.c_str(), H5P_DEFAULT), H5Oclose);
    return object && H5Iget_type(object.id()) == H5I_GROUP;
}

std::optional<std::string> text_of(hid_t object, const std::string& name) {
    const Handle at = attribute(object, name);
    if (!at || !is_scalar(at.id())) return std::nullopt;
    const Handle type(H5Aget_type(at.id()), H5Tclose);
    const Handle space(H5Aget_space(at.id()), H5Sclose);
    if (!type || H5Tget_class(type.id()) != H5T_STRING) return std::nullopt;
    const auto texts = read_texts(type.id(), space.id(), 1,
                                  [&](hid_t memory, void* into) { return H5Aread(at.id(), memory, into); });
    return texts ? std::optional(texts->front()) : std::nullopt;
}

std::optional<double> number_of(hid_t object, const std::string& name) {
    const Handle at = attribute(object, name);
    if (!at || !is_scalar(at.id())) return std::nullopt;
    const Handle type(H5Aget_type(at.id()), H5Tclose);
    double value = 0;
    if (!type || !is_number(type.id()) || H5Aread(at.id(), H5T_NATIVE_DOUBLE, &value) < 0)
        return std::nullopt;
    return value;
}

std::optional<std::int64_t> whole_of(hid_t object, const std::string& name) {
    const Handle at = attribute(object, name);
    if (!at || !is_scalar(at.id())) return std::nullopt;
    const Handle type(H5Aget_type(at.id()), H5Tclose);
    std::int64_t value = 0;
    if (!type || H5Tget_class(type.id()) != H5T_INTEGER || H5Aread(at.id(), H5T_NATIVE_INT64, &value) < 0)
        return std::nullopt;
    return value;
}

bool lacks_attribute(hid_t object, const std::string& name) {
    return H5Aexists(object, name.c_str()) == 0;
}

std::vector<std::string> attributes_of(hid_t object, std::size_t most) {
    std::vector<std::string> names;
    struct Gathered {
        std::vector<std::string>& names;
        std::size_t most;
    } gathered{names, most};
    const auto gather = [](hid_t, const char* name, const H5A_info_t*, void* data) -> herr_t {
        auto& into = *static_cast<Gathered*>(data);
        into.names.emplace_back(name);
        return into.names.size() >= into.most ? 1 : 0;
    };
    H5Aiterate2(object, H5_INDEX_NAME, H5_ITER_NATIVE, nullptr, gather, &gathered);
    return names;
}

std::optional<Numbers> open_numbers(hid_t group, const std::string& name, std::string& instead) {
    instead = "cannot be opened";
    if (!holds(group, name)) return std::nullopt;
    if (is_group(group, name)) {
        instead = "a group";
        return std::nullopt;
    }
    Numbers numbers;
    numbers.dataset = Handle(H5Dopen2(group, name.c_str(), H5P_DEFAULT), H5Dclose);
    if (!numbers.dataset) return std::nullopt;
    const hid_t id = numbers.dataset.id();
    const Handle type(H5Dget_type(id), H5Tclose), space(H5Dget_space(id), H5Sclose),
        creation(H5Dget_create_plist(id), H5Pclose);
    if (!type || !space || !creation) return std::nullopt;
    if (!is_number(type.id())) {
        instead = H5Tget_class(type.id()) == H5T_STRING ? "text" : "no plain numbers";
        return std::nullopt;
    }
    hsize_t sizes[most_dimensions] = {};
    numbers.rank = H5Sget_simple_extent_ndims(space.id());
    if (numbers.rank < 0 || numbers.rank > most_dimensions ||
        H5Sget_simple_extent_dims(space.id(), sizes, nullptr) != numbers.rank)
        return std::nullopt;
    instead = numbers.rank == 0 ? "one number" : fmt::format("{}-D,", numbers.rank);
    int longer = 0;
    for (int d = 0; d < numbers.rank; ++d) {
        instead += fmt::format("{}{}", d == 0 ? " " : " x ", sizes[d]);
        if (sizes[d] == 1 && numbers.rank > 1) continue;
        ++longer;
        numbers.along = d;
    }
    if (numbers.rank == 0 || longer > 1) return std::nullopt;
    numbers.length = sizes[numbers.along];
    if (H5Pget_layout(creation.id()) == H5D_VIRTUAL || H5Pget_external_count(creation.id()) > 0) {
        instead = "stored in another file";
        return std::nullopt;
    }
    const std::uint64_t stored = H5Dget_storage_size(id), size = H5Tget_size(type.id());
    if (size == 0 || numbers.length > (stored * most_inflation + (stored > 0 ? padding_bytes : 0)) / size) {
        instead = fmt::format("claims {} numbers, more than its {} bytes can hold", numbers.length, stored);
        return std::nullopt;
    }
    return numbers;
}

bool Numbers::read(std::uint64_t from, std::size_t count, double* into) const {
    if (count == 0) return true;
    hsize_t start[most_dimensions] = {}, counts[most_dimensions];
    std::fill_n(counts, most_dimensions, 1);
    start[along] = from;
    counts[along] = count;
    const Handle space(H5Dget_space(dataset.id()), H5Sclose);
    const hsize_t room = count;
    const Handle memory(H5Screate_simple(1, &room, nullptr), H5Sclose);
    if (!space || !memory) return false;
    if (H5Sselect_hyperslab(space.id(), H5S_SELECT_SET, start, nullptr, counts, nullptr) < 0) return false;
    return H5Dread(dataset.id(), H5T_NATIVE_DOUBLE, memory.id(), space.id(), H5P_DEFAULT, into) >= 0;
}

std::optional<std::vector<std::string>> texts_in(hid_t group, const std::string& name, std::size_t columns,
                                                 std::size_t most) {
    if (!holds(group, name)) return std::nullopt;
    const Handle dataset(H5Dopen2(group, name.c_str(), H5P_DEFAULT), H5Dclose);
    if (!dataset) return std::nullopt;
    const Handle type(H5Dget_type(dataset.id()), H5Tclose), space(H5Dget_space(dataset.id()), H5Sclose);
    if (!type || !space || H5Tget_class(type.id()) != H5T_STRING) return std::nullopt;
    hsize_t sizes[2] = {};
    if (H5Sget_simple_extent_ndims(space.id()) != 2 ||
        H5Sget_simple_extent_dims(space.id(), sizes, nullptr) != 2 || sizes[1] != columns || sizes[0] > most)
        return std::nullopt;
    return read_texts(type.id(), space.id(), static_cast<std::size_t>(sizes[0]) * columns,
                      [&](hid_t memory, void* into) {
                          return H5Dread(dataset.id(), memory, H5S_ALL, H5S_ALL, H5P_DEFAULT, into);
                      });
}

}  // namespace ebbtide::recording::hdf5
