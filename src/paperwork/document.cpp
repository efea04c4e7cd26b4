#include "paperwork/document.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"

namespace ebbtide::paperwork {

std::optional<Error> schema_problem(const Node& document, const std::string& name, std::string_view kind) {
    const std::string wanted = fmt::format("ebbtide.{}/1", kind);
    const std::string remedy = fmt::format("Write at the top: schema = \"{}\"", wanted);
    const Node* schema = document.find("schema");
    if (!schema) return Error{Fault::bad_input, "'schema' is missing", name + ":1", remedy};
    if (schema->kind == Node::Kind::text && schema->text == wanted) return {};
    const std::string where = fmt::format("{}:{}", name, schema->line);
    const std::string same_kind = fmt::format("ebbtide.{}/", kind);
    if (schema->kind == Node::Kind::text && schema->text.starts_with(same_kind)) {
        const auto version = parse_number(std::string_view(schema->text).substr(same_kind.size()));
        if (version && *version > 1)
            return Error{Fault::bad_input, fmt::format("the schema is '{}'", shortened(schema->text)), where,
                         fmt::format("This program reads {}; a newer one is needed", wanted)};
    }
    return Error{Fault::bad_input, fmt::format("the schema is {}, not '{}'", shown(*schema), wanted), where,
                 "Check that this is the file you meant. " + remedy};
}

}  // namespace ebbtide::paperwork
