#include "work/person.hpp"

namespace ebbtide::work {

std::string_view name_of(Question::Kind kind) {
    switch (kind) {
        case Question::Kind::setup:
            return "setup";
        case Question::Kind::mount:
            return "mount";
        case Question::Kind::leave:
            return "leave";
        case Question::Kind::look:
            return "look";
    }
    return "";
}

std::string_view name_of(Answer answer) {
    switch (answer) {
        case Answer::done:
            return "done";
        case Answer::skip:
            return "skip";
        case Answer::stop:
            return "stop";
    }
    return "";
}

}  // namespace ebbtide::work
