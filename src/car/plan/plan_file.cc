#include "car/plan/plan_file.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <sstream>

#include "base/units/number.h"

namespace fuelwright::car {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kLargestText = std::size_t{1} << 20U;
constexpr std::size_t kMostSteps = 1000;
constexpr const char* kFormat = "fuelwright plan 1";

struct KindKeys {
  PlanStepKind kind;
  const char* name;
  std::vector<std::string> needed, may;
};
const std::vector<KindKeys>& all_kinds() {
  static const std::vector<KindKeys> kAll{
      {PlanStepKind::idle, "idle", {"time"}, {}},
      {PlanStepKind::hold, "hold", {"gear", "speed", "time"}, {"pressure"}},
      {PlanStepKind::sweep, "sweep", {"gear", "from", "until"}, {"pressure"}},
      {PlanStepKind::coast, "coast", {"gear", "from", "until"}, {}}};
  return kAll;
}

std::string shown(std::string_view text) {
  std::string out;
  for (const char c : text.substr(0, 40)) out += static_cast<unsigned char>(c) < 0x20 ? '?' : c;
  return out;
}

/// One key of a step as it was written, whatever the form of the file.
struct Field {
  std::string key;
  std::optional<std::string> text;  ///< none: no text and no number
  std::string where;                ///< "evening.toml:7: step 2"
};
struct Written {
  std::string where;
  std::vector<Field> fields;
  const Field* find(std::string_view key) const {
    const auto at = std::ranges::find(fields, key, &Field::key);
    return at == fields.end() ? nullptr : &*at;
  }
};

Error error_at(ErrorCode code, const std::string& where, const std::string& message) {
  return {code, where, message};
}

Result<const KindKeys*> kind_of(const Written& step) {
  const Field* field = step.find("kind");
  if (field == nullptr) {
    return error_at(ErrorCode::needs_answer, step.where,
                    "has no kind; expected idle, hold, sweep or coast");
  }
  const auto& kinds = all_kinds();
  const auto at = std::ranges::find_if(
      kinds, [&](const KindKeys& k) { return field->text && *field->text == k.name; });
  if (at == kinds.end()) {
    return error_at(ErrorCode::bad_input, field->where + ": kind",
                    fmt::format("\"{}\" came; expected idle, hold, sweep or coast",
                                shown(field->text.value_or("no text"))));
  }
  return &*at;
}

Status check_keys(const Written& step, const KindKeys& kind) {
  for (const Field& f : step.fields) {
    const auto has = [&f](const std::vector<std::string>& keys) {
      return std::ranges::find(keys, f.key) != keys.end();
    };
    if (f.key == "kind" || has(kind.needed) || has(kind.may)) continue;
    std::vector<std::string> known = kind.needed;
    known.insert(known.end(), kind.may.begin(), kind.may.end());
    return error_at(ErrorCode::bad_input, fmt::format("{}: {}", f.where, shown(f.key)),
                    fmt::format("a step of kind {} has no such key; expected {}", kind.name,
                                fmt::join(known, ", ")));
  }
  for (const std::string& key : kind.needed) {
    if (step.find(key) != nullptr) continue;
    return error_at(ErrorCode::needs_answer, step.where,
                    fmt::format("a step of kind {} needs {}", kind.name, key));
  }
  return Done{};
}

Result<double> number_of(const Field& f, Kind kind) {
  const std::string where = fmt::format("{}: {}", f.where, f.key);
  if (!f.text) {
    return error_at(ErrorCode::bad_input, where,
                    fmt::format("is neither text nor a number; expected {}, such as \"{}\"",
                                describe(kind), kind == Kind::time ? "15 s" : "2400 rpm"));
  }
  auto number = parse_number(*f.text, kind);
  if (!number) return error_at(number.error().code, where, number.error().message);
  if (number->tolerance) {
    return error_at(ErrorCode::bad_input, where,
                    fmt::format("\"{}\" came; a plan holds numbers without +-", shown(*f.text)));
  }
  return number->si;
}

Status set_number(PlanStep& step, const Field& f) {
  if (f.key == "kind") return Done{};
  if (f.key == "gear") {
    FW_TRY(const double gear, number_of(f, Kind::count));
    // What lies outside is refused by problem_of(); this only keeps the conversion defined.
    step.gear = static_cast<int>(std::clamp(gear, -1.0, 1000.0));
  } else if (f.key == "time") {
    FW_TRY(step.time.si, number_of(f, Kind::time));
  } else if (f.key == "pressure") {
    FW_TRY(const double pa, number_of(f, Kind::absolute_pressure));
    step.map = absolute(pa * pascal);
  } else {
    FW_TRY(const double n, number_of(f, Kind::engine_speed));
    (f.key == "until" ? step.until : step.from) = rpm(n);
  }
  return Done{};
}

Result<PlanStep> step_of(const Written& written) {
  FW_TRY(const KindKeys* kind, kind_of(written));
  FW_CHECK(check_keys(written, *kind));
  PlanStep step;
  step.kind = kind->kind;
  for (const Field& f : written.fields) FW_CHECK(set_number(step, f));
  if (const std::string problem = problem_of(step); !problem.empty()) {
    return error_at(ErrorCode::out_of_range, written.where, problem);
  }
  return step;
}

Status check_format(const std::optional<std::string>& text, const std::string& where) {
  if (text == kFormat) return Done{};
  return error_at(
      ErrorCode::bad_input, where + ": format",
      fmt::format("\"{}\" came; expected \"{}\"", shown(text.value_or("no text")), kFormat));
}

Error unknown(const std::string& where, std::string_view key) {
  return error_at(ErrorCode::bad_input, fmt::format("{}: {}", where, shown(key)),
                  "unknown key; expected format and steps");
}

Error no_list(const std::string& where) {
  return error_at(ErrorCode::bad_input, where + ": steps", "is no list of steps");
}

Result<std::vector<Written>> written_toml(const toml::table& root, const std::string& file) {
  const auto at = [&file](const toml::node& node) {
    return fmt::format("{}:{}", file, std::max(node.source().begin.line, 1U));
  };
  std::vector<Written> out;
  for (const auto& [key, node] : root) {
    if (key == "format") {
      FW_CHECK(check_format(node.value<std::string>(), at(node)));
      continue;
    }
    if (key != "steps") return unknown(at(node), key.str());
    const toml::array* list = node.as_array();
    if (list == nullptr) return no_list(at(node));
    for (const toml::node& entry : *list) {
      const std::string step = fmt::format("step {}", out.size() + 1);
      const toml::table* table = entry.as_table();
      if (table == nullptr) return no_list(at(entry));
      Written& w = out.emplace_back(Written{fmt::format("{}: {}", at(entry), step), {}});
      for (const auto& [name, value] : *table) {
        Field f{std::string(name.str()), value.value<std::string>(),
                fmt::format("{}: {}", at(value), step)};
        if (const auto whole = value.value_exact<std::int64_t>()) f.text = fmt::to_string(*whole);
        if (const auto real = value.value_exact<double>()) f.text = fmt::to_string(*real);
        w.fields.push_back(std::move(f));
      }
    }
  }
  return out;
}

std::optional<std::string> text_of(const Json& value) {
  if (value.is_string()) return value.get<std::string>();
  if (value.is_number_integer()) return fmt::to_string(value.get<std::int64_t>());
  if (value.is_number()) return fmt::to_string(value.get<double>());
  return std::nullopt;
}

Result<std::vector<Written>> written_json(const Json& root, const std::string& file) {
  std::vector<Written> out;
  if (!root.is_object()) return error_at(ErrorCode::bad_input, file, "is no object of steps");
  for (const auto& [key, node] : root.items()) {
    if (key == "format") {
      FW_CHECK(check_format(text_of(node), file));
      continue;
    }
    if (key != "steps") return unknown(file, key);
    if (!node.is_array()) return no_list(file);
    for (const Json& entry : node) {
      const std::string where = fmt::format("{}: step {}", file, out.size() + 1);
      if (!entry.is_object()) return no_list(file);
      Written& w = out.emplace_back(Written{where, {}});
      for (const auto& [name, value] : entry.items()) {
        w.fields.push_back({name, text_of(value), where});
      }
    }
  }
  return out;
}

Result<std::vector<Written>> written(std::string_view text, const std::string& file) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first != std::string_view::npos && text[first] == '{') {
    const Json root = Json::parse(text, nullptr, false);
    if (root.is_discarded()) return error_at(ErrorCode::bad_input, file, "is no JSON");
    return written_json(root, file);
  }
  try {
    return written_toml(toml::parse(text, file), file);
  } catch (const toml::parse_error& e) {
    return error_at(ErrorCode::bad_input, fmt::format("{}:{}", file, e.source().begin.line),
                    fmt::format("is no TOML: {}", e.description()));
  }
}

/// The shortest text with that unit, or another of its kind that needs no factor, which reads back
/// as the same number.
std::string exact(double si, Kind kind, const char* unit, const char* plain) {
  const double shown = si / find_unit(unit, kind)->factor;
  for (int digits = 6; digits < 18; ++digits) {
    std::string text = fmt::format("{:.{}g} {}", shown, digits, unit);
    const auto back = parse_number(text, kind);
    if (back && back->si == si) return text;
  }
  return fmt::format("{:.17g} {}", si, plain);
}

Json members_of(const PlanStep& s) {
  const auto& kinds = all_kinds();
  const auto kind = std::ranges::find(kinds, s.kind, &KindKeys::kind);
  EXPECTS(kind != kinds.end());
  Json out;
  out["kind"] = kind->name;
  if (s.kind != PlanStepKind::idle) out["gear"] = s.gear;
  const auto speed = [](EngineSpeed n) { return exact(n.rpm, Kind::engine_speed, "rpm", "rpm"); };
  if (s.kind == PlanStepKind::hold) out["speed"] = speed(s.from);
  if (s.kind == PlanStepKind::sweep || s.kind == PlanStepKind::coast) {
    out["from"] = speed(s.from);
    out["until"] = speed(s.until);
  } else {
    out["time"] = exact(s.time.si, Kind::time, "s", "s");
  }
  if ((s.kind == PlanStepKind::sweep || s.kind == PlanStepKind::hold) && s.map) {
    out["pressure"] = exact(s.map->from_zero.si, Kind::absolute_pressure, "kPa", "Pa");
  }
  return out;
}

}  // namespace

Result<Plan> read_plan(std::string_view text, std::string_view file_name) {
  const std::string file(file_name);
  if (text.size() > kLargestText) {
    return error_at(ErrorCode::too_large, file,
                    fmt::format("{} bytes came; expected at most {}", text.size(), kLargestText));
  }
  FW_TRY(const std::vector<Written> steps, written(text, file));
  if (steps.size() > kMostSteps) {
    return error_at(ErrorCode::too_large, file,
                    fmt::format("{} steps came; expected at most {}", steps.size(), kMostSteps));
  }
  Plan plan;
  for (const Written& w : steps) {
    FW_TRY(const PlanStep step, step_of(w));
    plan.steps.push_back(step);
  }
  if (plan.steps.empty()) {
    return error_at(ErrorCode::needs_answer, file, "has no step; expected at least one");
  }
  return plan;
}

std::string write_plan(const Plan& plan, PlanForm form) {
  EXPECTS(validate(plan).ok());
  if (form == PlanForm::json) {
    Json root{{"format", kFormat}, {"steps", Json::array()}};
    for (const PlanStep& s : plan.steps) root["steps"].push_back(members_of(s));
    return root.dump(2) + "\n";
  }
  std::string out = fmt::format("format = \"{}\"\n", kFormat);
  for (const PlanStep& s : plan.steps) {
    out += fmt::format("\n[[steps]]  # {}\n", in_words(s));
    const Json members = members_of(s);
    for (const auto& [key, value] : members.items()) {
      out += fmt::format("{} = {}\n", key, value.dump());
    }
  }
  return out;
}

}  // namespace fuelwright::car
