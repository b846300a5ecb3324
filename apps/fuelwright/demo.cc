// fuelwright demo: the whole job on an invented car. Sheet, prediction and first calibration, a
// drive with it, estimate, accept, a second drive with the new table, estimate again, export; then
// one sentence of what is known and what is not.
//
// The car is invented by sim/ from the seed; the estimate sees its recordings only.
#include "demo.h"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <thread>

#include "car/build/derived.h"
#include "commands.h"
#include "service/api/json.h"
#include "service/report/text.h"
#include "service/service.h"
#include "session.h"
#include "sim/road_drive/engine_air.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::apps {
namespace {

constexpr double kMinutes = 15;

// The true car behind the sheet: its size, injectors and gears as stated, everything else drawn.
sim::Truth invent(const car::Sheet& sheet, unsigned seed) {
  sim::Truth t = sim::invent_truth(seed, sheet.engine.displacement.value,
                                   sheet.engine.cylinders.value, sheet.fuel.stoichiometric.value);
  t.injection.injectors = sheet.injection.injector_count.value;
  t.injection.squirts_per_cycle = sheet.injection.squirts_per_cycle.value;
  t.injection.stated_flow = sheet.injection.injector_flow.value;
  t.injection.stated_dead_time = sheet.injection.dead_time.value;
  t.vehicle.idle = sheet.wishes.idle_speed.value;
  t.vehicle.redline = sheet.wishes.rev_limit.value;
  t.surroundings.ambient = sheet.place.pressure.value;
  return t;
}

int cores() { return static_cast<int>(std::max(1U, std::thread::hardware_concurrency())); }

// Its engine becomes one that the sheet's tolerances allow, every cylinder computed.
Status give_engine(const car::Sheet& sheet, unsigned seed, sim::Truth* truth) {
  progress("inventing the car that was built of these parts");
  FW_TRY(car::Surface air, sim::engine_air(sheet, *truth, seed, {.threads = cores()}));
  truth->computed_ve = std::move(air);
  end_progress();
  return Done{};
}

// A canned start table as the car might have come with.
car::Surface table_as_found(const car::Sheet& sheet, unsigned seed, const sim::Truth& truth) {
  car::Surface found = sim::table_as_found(truth, car::table_grid(sheet), seed);
  for (double& v : found.values) v = std::round(1000 * v) / 1000;
  return found;
}

sim::DriveOptions drive_options(const car::Sheet& sheet, std::uint64_t seed) {
  sim::DriveOptions o;
  o.seed = seed;
  o.minutes = kMinutes;
  o.gauge_constant = sheet.wishes.scale.value.constant();
  o.computer.lambda_idle = sheet.wishes.idle_mixture.si();
  o.computer.lambda_cruise = sheet.wishes.cruise_mixture.si();
  o.computer.lambda_full = sheet.wishes.full_throttle_mixture.si();
  return o;
}

// How far the mixture is off with this table in the unit, over a drive: the same car without film,
// delay, lag, noise or correction, but with its wrong injectors. rms of ln(lambda / target).
Result<double> mixture_error(const sim::Truth& truth, const car::Surface& table,
                             const car::Sheet& sheet, std::uint64_t seed) {
  sim::Truth clear = sim::idealised(truth);
  clear.injection = truth.injection;
  clear.surroundings.charge_heating = truth.surroundings.charge_heating;
  clear.surroundings.charge_heating_believed = truth.surroundings.charge_heating_believed;
  sim::DriveOptions o = drive_options(sheet, seed);
  o.coolant_at_start = celsius(90);
  o.computer.closed_loop = false;
  o.computer.tip_in = 0;
  o.computer.fuel_cut = false;
  signals::Answers answers;
  answers.afr_constant = o.gauge_constant;
  FW_TRY(const signals::Recording r,
         signals::read_recording(sim::drive(clear, table, o), "judge", answers));
  const auto& lambda = r.find(signals::Quantity::lambda)->si;
  const auto& target = r.find(signals::Quantity::target)->si;
  double sum = 0;
  for (std::size_t i = 0; i < r.rows; ++i) sum += std::pow(std::log(lambda[i] / target[i]), 2);
  return std::sqrt(sum / static_cast<double>(r.rows));
}

service::PredictRequest predict_request(const std::string& job) {
  service::PredictRequest request;
  const service::Who asks = who();
  request.job = job;
  request.who = asks.name;
  request.when = asks.when;
  request.threads = cores();
  request.stop = stop_when_interrupted();
  request.progress = [](double share) {
    progress(fmt::format("computing the engines that could be this one: {:.0f} %", 100 * share));
  };
  return request;
}

void step(const Common& common, const std::string& title) {
  if (!common.json) fmt::print("\n== {}\n\n", title);
}

template <class Reply>
Result<Reply> say(const Common& common, Result<Reply> reply, bool whole = true) {
  if (reply && !common.json) {
    fmt::print("{}", whole ? service::text(*reply) : reply->sentence + "\n");
  }
  return reply;
}

Status run(const DemoOptions& o) {
  namespace fs = std::filesystem;
  std::error_code ec;
  fs::create_directories(o.folder, ec);
  if (ec) return Error{ErrorCode::io, o.folder, "cannot be made: " + ec.message()};
  const std::string job = (fs::path(o.folder) / "street_v8.fw").string();
  for (const char* tail : {"", "-wal", "-shm"}) fs::remove(job + tail, ec);

  FW_TRY(const car::Sheet sheet, car::read_sheet(demo_sheet(), "street_v8.toml"));
  sim::Truth truth = invent(sheet, o.seed);
  service::NewRequest fresh;
  fresh.job = job;
  fresh.sheet_toml = demo_sheet();
  fresh.sheet_name = "street_v8.toml";
  fresh.who = who();
  std::optional<car::Surface> start;
  if (o.found) {
    step(o.common, "new: the parts and the table as found");
    start = table_as_found(sheet, o.seed, truth);
    service::TableIn found;
    found.text = car::write_table(*start, car::TableWhat::ve, car::TextForm::tsv, UnitSystem::us);
    found.name = "table as found";
    fresh.ve_as_found = std::move(found);
    FW_CHECK(say(o.common, service::new_job(fresh)));
  } else {
    step(o.common, "new: the parts");
    FW_CHECK(say(o.common, service::new_job(fresh)));
    step(o.common, "predict: what it will do, and its first calibration");
    FW_TRY(const service::PredictReply predicted,
           say(o.common, service::predict(predict_request(job))));
    start = *predicted.first.calibration.find(car::TableWhat::ve);
    FW_CHECK(give_engine(sheet, o.seed, &truth));
  }
  const car::Surface first = *start;
  const int revisions = o.found ? 0 : 1;  // before the first drive

  car::Surface in_unit = first;
  service::EstimateReply last;
  for (int round = 1; round <= 2; ++round) {
    const std::string name = fmt::format("drive_{}.csv", round);
    step(o.common,
         fmt::format("add: {:.0f} minutes on the road, revision {} in the unit", kMinutes, round));
    progress("driving");
    std::string bytes = sim::drive(
        truth, in_unit, drive_options(sheet, o.seed * 100 + static_cast<unsigned>(round)));
    end_progress();
    FW_CHECK(write_file((fs::path(o.folder) / name).string(), bytes));
    signals::Answers answers;
    answers.afr_constant = sheet.wishes.scale.value.constant();
    FW_CHECK(
        say(o.common,
            service::add_recording({job, name, std::move(bytes), answers, std::nullopt, who()}),
            round == 1));
    step(o.common, "estimate: what the recordings prove");
    FW_TRY(last, say(o.common, service::estimate({job, std::nullopt, false, who()}), round == 1));
    step(o.common, "accept");
    FW_CHECK(say(o.common, service::accept({job, "", who()})));
    in_unit = *last.proposed;
  }
  step(o.common, "export");
  FW_TRY(const std::string tsv,
         service::export_tables({job, service::ExportForm::tsv, std::nullopt, car::TableWhat::ve}));
  const std::string out = (fs::path(o.folder) / "ve.tsv").string();
  FW_CHECK(write_file(out, tsv));
  if (o.common.json) {
    fmt::print("{}", service::json(last));
    return Done{};
  }
  const std::uint64_t road = o.seed * 100 + 9;  // a road not driven yet
  FW_TRY(const double before, mixture_error(truth, first, sheet, road));
  FW_TRY(const double after, mixture_error(truth, in_unit, sheet, road));
  fmt::print("The VE table of revision {} is in {}, ready to paste.\n", revisions + 2, out);
  fmt::print(
      "On a road not driven yet, without closed loop, the mixture was {:.1f} % off with the {} and "
      "is {:.1f} % "
      "off now (rms; known because the car is invented).\n\n",
      100 * before, o.found ? "table as found" : "computed table", 100 * after);
  fmt::print("{} {}\n", last.sentence, last.not_known);
  return Done{};
}

}  // namespace

int run_demo(const DemoOptions& o) {
  const Status status = run(o);
  end_progress();
  if (status) return 0;
  if (o.common.json) {
    fmt::print("{}", service::json(status.error()));
  } else {
    fmt::print(stderr, "fuelwright: {}\n", status.error().line());
  }
  return exit_code(status.error().code);
}

}  // namespace fuelwright::apps
