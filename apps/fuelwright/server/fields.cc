#include "apps/fuelwright/server/fields.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "base/units/number.h"

namespace fuelwright::apps::server {
namespace {

// What came, short enough for one line.
std::string shown(const Json& j) {
  constexpr std::size_t kMost = 40;
  std::string text =
      j.is_structured() ? std::string(j.is_array() ? "a list" : "an object") : text_of(j);
  if (text.size() > kMost) text = text.substr(0, kMost) + "...";
  return text;
}

}  // namespace

Fields::Fields(const Json& object, std::string where, bool is_query)
    : object_(object), where_(std::move(where)), is_query_(is_query) {
  if (!object_.is_object()) {
    fail(Error{ErrorCode::usage, where_, shown(object_) + " came; expected an object"});
  }
}

void Fields::fail(const Error& error) {
  if (!error_) error_ = error;
}

void Fields::fail(const char* key, const std::string& expected) {
  const bool there = object_.is_object() && object_.contains(key);
  fail(Error{
      ErrorCode::usage, where_ + ": " + key,
      (there ? shown(object_.at(key)) : std::string("nothing")) + " came; expected " + expected});
}

const Json* Fields::at(const char* key) {
  known_.insert(key);
  if (!object_.is_object()) return nullptr;
  const auto it = object_.find(key);
  return it == object_.end() || it->is_null() ? nullptr : &*it;
}

std::optional<std::string> Fields::maybe_text(const char* key) {
  const Json* j = at(key);
  if (!j) return std::nullopt;
  if (j->is_string()) return j->get<std::string>();
  fail(key, "a text");
  return std::nullopt;
}

std::string Fields::needed_text(const char* key) {
  const auto text = maybe_text(key);
  if (!text || text->empty()) fail(key, "a text");
  return text.value_or("");
}

std::optional<double> Fields::number(const char* key) {
  const Json* j = at(key);
  if (!j) return std::nullopt;
  if (is_query_ && j->is_string()) {
    if (const auto v = parse_double(j->get<std::string>())) return v;
  } else if (j->is_number() && std::isfinite(j->get<double>())) {
    return j->get<double>();
  }
  fail(key, "a number");
  return std::nullopt;
}

double Fields::needed_number(const char* key) {
  const auto v = number(key);
  if (!v) fail(key, "a number");
  return v.value_or(0);
}

std::optional<std::int64_t> Fields::whole(const char* key, std::int64_t low, std::int64_t high) {
  const Json* j = at(key);
  if (!j) return std::nullopt;
  std::int64_t v = 0;
  bool good = false;
  if (is_query_ && j->is_string()) {
    const auto text = j->get<std::string>();
    const auto [end, problem] = std::from_chars(text.data(), text.data() + text.size(), v);
    good = problem == std::errc{} && end == text.data() + text.size();
  } else if (j->is_number_unsigned()) {
    const auto u = j->get<std::uint64_t>();
    good = u <= static_cast<std::uint64_t>(INT64_MAX);
    v = static_cast<std::int64_t>(u);
  } else if (j->is_number_integer()) {
    v = j->get<std::int64_t>();
    good = true;
  }
  if (good && v >= low && v <= high) return v;
  fail(key, fmt::format("a whole number, {} to {}", low, high));
  return std::nullopt;
}

std::optional<int> Fields::revision(const char* key) {
  const auto v = whole(key, 0, 1'000'000'000);
  return v ? std::optional(static_cast<int>(*v)) : std::nullopt;
}

int Fields::needed_revision(const char* key) {
  const auto v = revision(key);
  if (!v) fail(key, "the number of a revision");
  return v.value_or(0);
}

bool Fields::flag(const char* key) {
  const Json* j = at(key);
  if (!j) return false;
  if (j->is_boolean()) return j->get<bool>();
  if (is_query_ && (*j == "true" || *j == "false")) return *j == "true";
  fail(key, "true or false");
  return false;
}

std::vector<std::string> Fields::words(const char* key) {
  std::vector<std::string> out;
  const Json* j = at(key);
  if (!j) return out;
  if (is_query_ && j->is_string()) {
    const auto text = j->get<std::string>();
    for (std::size_t from = 0; from <= text.size();) {
      const auto comma = std::min(text.find(',', from), text.size());
      if (comma > from) out.push_back(text.substr(from, comma - from));
      from = comma + 1;
    }
    return out;
  }
  if (!j->is_array()) {
    fail(key, "a list");
    return out;
  }
  for (const Json& one : *j) {
    if (one.is_string()) {
      out.push_back(one.get<std::string>());
    } else if (one.is_number_integer()) {
      out.push_back(one.dump());
    } else {
      fail(key, "a list of names or numbers");
    }
  }
  return out;
}

const Json* Fields::list(const char* key) {
  const Json* j = at(key);
  if (!j || j->is_array()) return j;
  fail(key, "a list");
  return nullptr;
}

const Json* Fields::object(const char* key) {
  const Json* j = at(key);
  if (!j || j->is_object()) return j;
  fail(key, "an object");
  return nullptr;
}

const Json* Fields::any(const char* key) { return at(key); }

// A key that is not known tells more than what is missing because of it.
Status Fields::done() const {
  for (const auto& [key, value] : object_.items()) {
    if (!object_.is_object() || known_.contains(key)) continue;
    const std::vector<std::string> names(known_.begin(), known_.end());
    const auto near = nearest(key, names);
    return Error{ErrorCode::usage, where_,
                 fmt::format("\"{}\" came; expected {}{}", key.substr(0, 60),
                             names.empty() ? "no key" : fmt::format("{}", fmt::join(names, ", ")),
                             near ? "; did you mean \"" + *near + "\"?" : "")};
  }
  if (error_) return *error_;
  return Done{};
}

}  // namespace fuelwright::apps::server
