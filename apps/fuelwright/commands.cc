#include "commands.h"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <iostream>
#include <mutex>
#include <thread>

#include "car/build/questions.h"
#include "car/fuel/mixture.h"
#include "car/plan/plan_file.h"
#include "first_start_command.h"
#include "service/api/json.h"
#include "service/prediction.h"
#include "service/report/text.h"
#include "service/service.h"
#include "session.h"
#include "signals/recording/recording.h"

namespace fuelwright::apps {
namespace {

int fail(const Common& common, const Error& error) {
  end_progress();
  if (common.json) {
    fmt::print("{}", service::json(error));
  } else {
    fmt::print(stderr, "fuelwright: {}\n", error.line());
  }
  return exit_code(error.code);
}

template <class Reply>
int answer(const Common& common, const Result<Reply>& reply) {
  end_progress();
  if (!reply) return fail(common, reply.error());
  fmt::print("{}", common.json ? service::json(*reply) : service::text(*reply));
  return 0;
}

Result<std::optional<UnitSystem>> units_of(const Common& common) {
  if (!common.units) return std::optional<UnitSystem>{};
  if (*common.units == "us") return std::optional{UnitSystem::us};
  if (*common.units == "metric") return std::optional{UnitSystem::metric};
  return Error{ErrorCode::usage, "--units",
               fmt::format("\"{}\" came; expected us or metric", *common.units)};
}

Status keep_units(const Common& common, const std::string& job) {
  FW_TRY(const auto units, units_of(common));
  return units ? service::keep_units(job, *units, who()) : Status{Done{}};
}

// Asks the five questions on the terminal (or reads the answers line by line from a pipe).
Result<std::string> ask_five() {
  std::vector<std::string> answers;
  for (const car::Question& q : car::five_questions()) {
    while (true) {
      fmt::print(stderr, "{}  (for instance {})\n> ", q.text, q.example);
      std::string line;
      if (!std::getline(std::cin, line)) {
        return Error{ErrorCode::needs_answer, q.id,
                     fmt::format("no answer came; {} ({})", q.text, q.example)};
      }
      const auto checked = q.check(line);
      if (checked) {
        fmt::print(stderr, "  {}\n", checked->understood);
        answers.push_back(line);
        break;
      }
      fmt::print(stderr, "  {}\n", checked.error().message);
      if (!on_a_terminal()) return Error{checked.error().code, q.id, checked.error().message};
    }
  }
  return car::sheet_from_answers(answers);
}

Result<std::optional<char>> decimal_of(const std::string& word) {
  if (word.empty()) return std::optional<char>{};
  if (word == "comma") return std::optional{','};
  if (word == "point") return std::optional{'.'};
  return Error{ErrorCode::usage, "--decimal",
               fmt::format("\"{}\" came; expected comma or point", word)};
}

Result<service::NewRequest> new_request(const NewOptions& o) {
  service::NewRequest request;
  request.job = o.job;
  request.who = who();
  FW_TRY(request.units, units_of(o.common));
  if (o.sheet.empty()) {
    FW_TRY(request.sheet_toml, ask_five());
    request.sheet_name = "your five answers";
  } else {
    FW_TRY(request.sheet_toml, signals::read_file(o.sheet, std::size_t{1} << 20U));
    request.sheet_name = name_of_path(o.sheet);
  }
  if (!o.table.empty()) {
    service::TableIn table;
    FW_TRY(table.text, signals::read_file(o.table, std::size_t{1} << 20U));
    table.name = name_of_path(o.table);
    if (!o.load.empty()) {
      FW_TRY(table.reading.load, car::axis_kind_named(o.load));
    }
    if (!o.load_unit.empty()) table.reading.y_unit = o.load_unit;
    FW_TRY(table.reading.decimal, decimal_of(o.decimal));
    request.ve_as_found = std::move(table);
  }
  return request;
}

constexpr std::size_t kLargestTableFile = std::size_t{16} << 20U;

// A file, or what is piped in: the clipboard, for instance.
Result<std::string> table_file(const std::string& path) {
  if (path != "-") return signals::read_file(path, kLargestTableFile);
  std::string out(kLargestTableFile + 1, '\0');
  std::cin.read(out.data(), static_cast<std::streamsize>(out.size()));
  out.resize(static_cast<std::size_t>(std::cin.gcount()));
  if (out.size() <= kLargestTableFile) return out;
  return Error{ErrorCode::too_large, "what is piped in",
               fmt::format("is longer than {} bytes", kLargestTableFile)};
}

Result<service::BringInRequest> bring_in_request(const BringInOptions& o) {
  service::BringInRequest request;
  request.job = o.job;
  FW_TRY(request.table.text, table_file(o.file));
  request.table.name = o.file == "-" ? "what is piped in" : name_of_path(o.file);
  if (!o.form.empty()) {
    FW_TRY(request.form, service::export_form_named(o.form));
  }
  if (!o.table.empty()) {
    FW_TRY(request.what, car::part_named(o.table));
  }
  if (!o.load.empty()) {
    FW_TRY(request.table.reading.load, car::axis_kind_named(o.load));
  }
  if (!o.load_unit.empty()) request.table.reading.y_unit = o.load_unit;
  FW_TRY(request.table.reading.decimal, decimal_of(o.decimal));
  request.table.reading.last_row_first = o.highest_first;
  request.named = o.named;
  request.at = o.at;
  request.interpolate = o.interpolate;
  request.seen = o.seen;
  request.why = o.why;
  request.who = who();
  return request;
}

Result<signals::Answers> answers_about(const std::vector<std::string>& channels,
                                       const std::optional<double>& afr_constant) {
  signals::Answers answers;
  for (const std::string& channel : channels) {
    FW_CHECK(signals::add_channel_answer(answers, channel));
  }
  if (afr_constant) {
    const auto scale = car::MixtureScale::in_afr(*afr_constant);
    if (!scale) return Error{ErrorCode::usage, "--afr-constant", scale.error().message};
    answers.afr_constant = afr_constant;
  }
  return answers;
}

Result<signals::Answers> answers_of(const AddOptions& o) {
  FW_TRY(signals::Answers answers, answers_about(o.channels, o.afr_constant));
  if (!o.ambient.empty()) {
    const auto ambient = parse_number(o.ambient, Kind::absolute_pressure);
    if (!ambient) return Error{ErrorCode::usage, "--ambient", ambient.error().message};
    answers.ambient = absolute(ambient->si * pascal);
  }
  answers.unordered = o.unordered;
  if (!o.rate.empty()) {
    FW_TRY(answers.row_step, signals::parse_row_step(o.rate));
  }
  return answers;
}

// "98 kPa" for an option; nothing if it was not given.
Result<std::optional<double>> figure(const char* option, const std::string& text, Kind kind) {
  if (text.empty()) return std::optional<double>{};
  const auto read = parse_number(text, kind);
  if (!read) return Error{ErrorCode::usage, option, read.error().message};
  return std::optional{read->si};
}

Result<service::CheckRequest> check_request(const CheckOptions& o) {
  service::CheckRequest request{o.job, o.recordings, o.key_on, {}};
  FW_TRY(const signals::Answers answers, answers_about(o.channels, o.afr_constant));
  for (const std::string& word : o.key_on) {
    std::error_code none;
    if (!std::filesystem::is_regular_file(word, none)) continue;  // then it is one of the job
    FW_TRY(std::string bytes, signals::read_file(word));
    request.files.push_back({word, std::move(bytes), answers});
  }
  FW_TRY(const auto station, figure("--barometer", o.barometer, Kind::absolute_pressure));
  FW_TRY(const auto report, figure("--sea-level", o.sea_level, Kind::absolute_pressure));
  FW_TRY(const auto altitude, figure("--altitude", o.altitude, Kind::length));
  FW_TRY(const auto air, figure("--air", o.air, Kind::temperature));
  FW_TRY(const auto stood, figure("--stood", o.stood, Kind::time));
  if (station) request.weather.station = absolute(*station * pascal);
  if (report) request.weather.sea_level = absolute(*report * pascal);
  if (altitude) request.weather.altitude = *altitude * metre;
  if (air) request.weather.air = kelvin(*air);
  if (stood) request.weather.stood = *stood * second;
  return request;
}

Result<service::PlanRequest> plan_request(const PlanOptions& o) {
  service::PlanRequest request{.job = o.job};
  request.minutes = o.minutes;
  request.good = o.within;
  request.grade = o.grade;
  request.dyno = o.dyno;
  request.stop_finding = o.stop_finding;
  request.use = o.use;
  if (!o.top_speed.empty()) {
    const auto speed = parse_number(o.top_speed, Kind::speed);
    if (!speed) return Error{speed.error().code, "--top-speed", speed.error().message};
    request.top_speed = Speed{speed->si};
  }
  if (!o.cycle.empty()) {
    FW_TRY(request.cycle_csv, signals::read_file(o.cycle, std::size_t{4} << 20U));
    request.cycle_name = name_of_path(o.cycle);
  }
  return request;
}

Result<service::SizeRequest> size_request(const SizeOptions& o) {
  service::SizeRequest request{.job = o.job};
  FW_TRY(const auto boost, figure("--boost", o.boost, Kind::pressure_step));
  if (boost) request.boost = *boost * pascal;
  request.cooler = o.cooler;
  request.exhaust_driven = o.exhaust_driven;
  request.margin = o.margin;
  request.forget_measured = o.forget_measured;
  for (const std::string& text : o.measured) {
    const auto is = text.find('=');
    if (is == std::string::npos || is == 0 || is + 1 == text.size()) {
      return Error{
          ErrorCode::usage, "--measured",
          fmt::format("\"{}\" came; expected KEY=VALUE, such as \"pump_volts=12.4 V\"", text)};
    }
    request.measured.push_back({text.substr(0, is), text.substr(is + 1)});
  }
  return request;
}

}  // namespace

int run_new(const NewOptions& o) {
  const auto request = new_request(o);
  if (!request) return fail(o.common, request.error());
  return answer(o.common, service::new_job(*request));
}

int run_add(const AddOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  const auto answers = answers_of(o);
  if (!answers) return fail(o.common, answers.error());
  std::optional<service::TableIn> learned;
  if (!o.learned.empty()) {
    auto text = signals::read_file(o.learned, kLargestTableFile);
    if (!text) return fail(o.common, text.error());
    learned = service::TableIn{std::move(*text), name_of_path(o.learned), {}};
  }
  const bool list = o.common.json && o.recordings.size() > 1;  // several answers: one JSON array
  for (std::size_t i = 0; i < o.recordings.size(); ++i) {
    const std::string& path = o.recordings[i];
    progress("reading " + path);
    auto bytes = signals::read_file(path);
    if (list) fmt::print("{}", i == 0 ? "[\n" : ",\n");
    if (!bytes) {
      const int code = fail(o.common, bytes.error());
      if (list) fmt::print("]\n");
      return code;
    }
    const int code =
        answer(o.common, service::add_recording({o.job, name_of_path(path), std::move(*bytes),
                                                 *answers, o.revision, who(), learned}));
    if (code != 0) {
      if (list) fmt::print("]\n");
      return code;
    }
  }
  if (list) fmt::print("]\n");
  return 0;
}

int run_predict(const PredictOptions& o) {
  if (auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  service::PredictRequest request;
  request.job = o.job;
  request.members = o.members;
  request.keep = o.look   ? service::Keep::never
                 : o.keep ? service::Keep::always
                          : service::Keep::if_first;
  request.why = o.why;
  const service::Who asks = who();
  request.who = asks.name;
  request.when = asks.when;
  request.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  request.stop = stop_when_interrupted();
  std::mutex drawing;
  request.progress = [&drawing](double share) {
    const std::lock_guard lock(drawing);
    progress(fmt::format("computing the engines that could be this one: {:.0f} %", 100 * share));
  };
  return answer(o.common, service::predict(request));
}

int run_size(const SizeOptions& o) {
  if (auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  auto request = size_request(o);
  if (!request) return fail(o.common, request.error());
  const service::Who asks = who();
  request->who = asks.name;
  request->when = asks.when;
  request->threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  request->stop = stop_when_interrupted();
  std::mutex drawing;
  request->progress = [&drawing](double share) {
    const std::lock_guard lock(drawing);
    progress(fmt::format("computing the engines that could be this one: {:.0f} %", 100 * share));
  };
  return answer(o.common, service::size(*request));
}

int run_estimate(const EstimateOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  service::EstimateRequest request{o.job, std::nullopt, o.open_loop, who()};
  if (!o.from.empty()) {
    const auto way = advice::way_named(o.from);
    if (!way) return fail(o.common, way.error());
    request.way = *way;
  }
  request.lean_limit = o.lean_limit;
  request.lean_chance = o.lean_chance;
  request.cause_found = o.cause_found;
  progress("estimating");
  return answer(o.common, service::estimate(request));
}

int run_check(const CheckOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  const auto request = check_request(o);
  if (!request) return fail(o.common, request.error());
  if (o.first_start) return answer(o.common, first_start_of(o, request->weather));
  if (!o.guard_rules.empty()) {
    auto rules = signals::read_file(o.guard_rules, std::size_t{1} << 16U);
    if (!rules) return fail(o.common, rules.error());
    const service::Who asks = who();
    const auto kept = service::keep_guard_rules(
        {o.job, std::move(*rules), name_of_path(o.guard_rules), asks.name, asks.when});
    if (!kept) return fail(o.common, kept.error());
  }
  progress("checking");
  return answer(o.common, service::check(*request));
}

int run_plan(const PlanOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  const auto request = plan_request(o);
  if (!request) return fail(o.common, request.error());
  progress("planning");
  const auto reply = service::plan(*request);
  if (reply && !o.out.empty() && !reply->plan.steps.empty()) {
    const auto written = write_file(o.out, car::write_plan(reply->plan.plan()));
    if (!written) return fail(o.common, written.error());
  }
  return answer(o.common, reply);
}

int run_accept(const AcceptOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  return answer(o.common, service::accept({o.job, o.why, who()}));
}

int run_export(const ExportOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  service::ExportRequest request;
  request.job = o.job;
  request.revision = o.revision;
  const auto form = service::export_form_named(o.common.json ? "json" : o.form);
  if (!form) return fail(o.common, form.error());
  request.form = *form;
  if (!o.table.empty()) {
    const auto what = car::part_named(o.table);
    if (!what) return fail(o.common, what.error());
    request.what = *what;
  }
  const auto text = service::export_tables(request);
  if (!text) return fail(o.common, text.error());
  if (o.out.empty()) {
    fmt::print("{}", *text);
    return 0;
  }
  if (const auto written = write_file(o.out, *text); !written)
    return fail(o.common, written.error());
  fmt::print("Written: {}\n", o.out);
  return 0;
}

int run_export_recordings(const ArchiveOptions& o) {
  const auto put = [&](const service::ArchivedFile& file) -> Status {
    const std::filesystem::path path = std::filesystem::path(o.folder) / file.path;
    progress("writing " + path.string());
    std::error_code problem;
    std::filesystem::create_directories(path.parent_path(), problem);
    if (problem) {
      return Error{ErrorCode::io, path.parent_path().string(),
                   "cannot be made: " + problem.message()};
    }
    return write_file(path.string(), file.bytes);
  };
  return answer(o.common, service::archive_recordings({o.job, o.vehicle}, put));
}

int run_bring_in(const BringInOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  const auto request = bring_in_request(o);
  if (!request) return fail(o.common, request.error());
  return answer(o.common,
                o.dry_run ? service::preview_tables(*request) : service::bring_in(*request));
}

int run_compare(const CompareOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  return answer(o.common, service::compare({o.job, o.from, o.to}));
}

int run_revert(const RevertOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  return answer(o.common, service::revert({o.job, o.revision, o.why, who()}));
}

int run_show(const ShowOptions& o) {
  if (const auto kept = keep_units(o.common, o.job); !kept) return fail(o.common, kept.error());
  const auto what = service::show_named(o.what);
  if (!what) return fail(o.common, what.error());
  return answer(o.common, service::show({o.job, *what}));
}

}  // namespace fuelwright::apps
