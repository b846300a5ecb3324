#include "car_command.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <thread>

#include "car/build/sheet_file.h"
#include "car/plan/plan_file.h"
#include "car/tables/table_json.h"
#include "car/tables/table_text.h"
#include "service/api/json.h"
#include "service/service.h"
#include "session.h"
#include "signals/recording/recording.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/engine_air.h"
#include "sim/virtual_car/truth_file.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::apps {
namespace {

namespace vc = sim::virtual_car;

constexpr std::size_t kLargestText = std::size_t{4} << 20U;

Result<vc::Truth> truth_of(const CarOptions& o, const car::Sheet& sheet) {
  std::string text, name = "truth";
  if (!o.truth_in.empty()) {
    FW_TRY(text, signals::read_file(o.truth_in, kLargestText));
    name = name_of_path(o.truth_in);
  }
  FW_TRY(vc::Truth truth, vc::truth_in(text, name, sheet, o.seed));
  if (!truth.has_air()) {
    vc::AirOptions options;
    options.threads = static_cast<int>(std::max(std::thread::hardware_concurrency(), 1U));
    options.progress = [](double share) {
      progress(fmt::format("computing the air of the true engine: {:.0f} %", 100 * share));
    };
    FW_CHECK(vc::give_air(truth, sheet, o.seed, options));
    end_progress();
  }
  return truth;
}

/// A job, or tables as JSON.
Result<car::Calibration> calibration_of(const CarOptions& o, const vc::Truth& truth,
                                        const car::Sheet& sheet) {
  if (o.calibration.empty()) return vc::calibration_as_found(truth, sheet, o.seed);
  std::string text;
  if (o.calibration.ends_with(".json")) {
    FW_TRY(text, signals::read_file(o.calibration, kLargestText));
  } else {
    service::ExportRequest request;
    request.job = o.calibration;
    request.form = service::ExportForm::json;
    FW_TRY(text, service::export_tables(request));
  }
  auto calibration = car::read_tables_json(text);
  if (!calibration) {
    return Error{calibration.error().code, name_of_path(o.calibration), calibration.error().line()};
  }
  return calibration;
}

Result<vc::DriveRequest> request_of(const CarOptions& o) {
  vc::DriveRequest request;
  const std::string& path = o.plan.empty() ? o.cycle : o.plan;
  FW_TRY(const std::string text, signals::read_file(path, kLargestText));
  if (o.plan.empty()) {
    FW_TRY(request.task, vc::read_cycle(text, name_of_path(path)));
  } else {
    FW_TRY(request.task, car::read_plan(text, name_of_path(path)));
  }
  for (const std::string& fault : o.faults) {
    FW_TRY(const car::Fault read, car::read_fault(fault));
    request.faults.push_back(read);
  }
  request.seed = o.seed;
  if (o.minutes) request.length = *o.minutes * minute;
  return request;
}

/// "steps 3 and 7 of 9 were not driven to their end", or that all were.
std::string followed(const vc::DriveRequest& request, const vc::Drive& drive) {
  const auto* plan = std::get_if<car::Plan>(&request.task);
  if (plan == nullptr) {
    return fmt::format("within 2 mph of the cycle for {:.1f} % of the time",
                       100 * drive.within_tolerance);
  }
  const auto& cut_short = drive.cut_short;
  if (cut_short.empty()) return fmt::format("all {} steps of the plan driven", plan->steps.size());
  return fmt::format("{} of {} steps of the plan not driven to their end: {}", cut_short.size(),
                     plan->steps.size(), fmt::join(cut_short, ", "));
}

void say(const CarOptions& o, const vc::Truth& truth, const vc::DriveRequest& request,
         const vc::Drive& drive) {
  const auto rows = std::ranges::count(drive.recording, '\n') - 1;
  const double seconds = static_cast<double>(rows) / truth.recorder.rows_per_second;
  if (o.common.json) {
    nlohmann::ordered_json answer{{"recording", o.out},
                                  {"rows", rows},
                                  {"seconds", seconds},
                                  {"distance_m", drive.distance.si},
                                  {"fuel_kg", drive.fuel.si}};
    if (const auto* plan = std::get_if<car::Plan>(&request.task)) {
      answer["steps"] = plan->steps.size();
      answer["steps_cut_short"] = drive.cut_short;
    } else {
      answer["within_2_mph_of_the_cycle"] = drive.within_tolerance;
    }
    fmt::print("{}\n", answer.dump(2));
    return;
  }
  fmt::print("{}: {:.1f} minutes, {:.1f} miles, {:.2f} kg of fuel; {}\n", o.out, seconds / 60,
             drive.distance.in(mile), drive.fuel.si, followed(request, drive));
}

Status write_learned(const CarOptions& o, const vc::Drive& drive) {
  if (o.learned_out.empty()) return Done{};
  if (!drive.learned) {
    return Error{
        ErrorCode::conflict, "--learned-out",
        "this unit does not correct itself; expected computer.self_correction_per_min above "
        "0 in the truth"};
  }
  return write_file(o.learned_out, car::write_table(*drive.learned, car::TableWhat::correction,
                                                    car::TextForm::tsv, UnitSystem::metric));
}

Status drive(const CarOptions& o) {
  FW_TRY(const std::string text, signals::read_file(o.sheet, std::size_t{1} << 20U));
  FW_TRY(const car::Sheet sheet, car::read_sheet(text, name_of_path(o.sheet)));
  FW_TRY(const vc::DriveRequest request, request_of(o));
  FW_TRY(const vc::Truth truth, truth_of(o, sheet));
  FW_TRY(const car::Calibration calibration, calibration_of(o, truth, sheet));
  FW_TRY(const vc::Drive driven, vc::drive_car(truth, sheet, calibration, request));
  if (!o.truth_out.empty()) FW_CHECK(write_file(o.truth_out, vc::truth_out(truth)));
  if (!o.calibration_out.empty()) {
    car::Revision revision;
    revision.reason = "what was in the virtual car's unit";
    revision.calibration = calibration;
    FW_CHECK(write_file(o.calibration_out, car::write_tables_json(revision)));
  }
  FW_CHECK(write_learned(o, driven));
  FW_CHECK(write_file(o.out, driven.recording));
  say(o, truth, request, driven);
  return Done{};
}

}  // namespace

int run_car(const CarOptions& o) {
  const Status done = drive(o);
  end_progress();
  if (done) return 0;
  if (o.common.json) {
    fmt::print("{}", service::json(done.error()));
  } else {
    fmt::print(stderr, "fuelwright: {}\n", done.error().line());
  }
  return exit_code(done.error().code);
}

}  // namespace fuelwright::apps
