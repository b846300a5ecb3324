// fuelwright demo: the whole job on an invented car. Sheet, table as found, a drive, estimate,
// accept, a second drive with the new table, estimate again, export; then one sentence of what is
// known and what is not.
//
// The car is invented by sim/ from the seed; the estimate sees its recordings only.
#include "fuelwright/demo.h"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>

#include "car/build/derived.h"
#include "fuelwright/commands.h"
#include "fuelwright/session.h"
#include "service/api/json.h"
#include "service/report/text.h"
#include "service/service.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::apps {
namespace {

constexpr double kMinutes = 15;

struct InventedCar {
  sim::Truth truth;
  car::Surface found;
};

// The true car behind the sheet: its size, injectors and gears as stated, everything else drawn.
InventedCar invent(const car::Sheet& sheet, unsigned seed) {
  sim::Truth t = sim::invent_truth(seed, sheet.engine.displacement.value,
                                   sheet.engine.cylinders.value, sheet.fuel.stoichiometric.value);
  t.injection.injectors = sheet.injection.injector_count.value;
  t.injection.squirts_per_cycle = sheet.injection.squirts_per_cycle.value;
  t.injection.stated_flow = sheet.injection.injector_flow.value;
  t.injection.stated_dead_time = sheet.injection.dead_time.value;
  t.vehicle.idle = sheet.wishes.idle_speed.value;
  t.vehicle.redline = sheet.wishes.rev_limit.value;
  t.surroundings.ambient = sheet.place.pressure.value;
  car::Surface found = sim::table_as_found(t, car::table_grid(sheet), seed);
  for (double& v : found.values) v = std::round(1000 * v) / 1000;
  return {std::move(t), std::move(found)};
}

std::string drive(const InventedCar& car, const car::Surface& table, const car::Sheet& sheet,
                  std::uint64_t seed) {
  sim::DriveOptions o;
  o.seed = seed;
  o.minutes = kMinutes;
  o.gauge_constant = sheet.wishes.scale.value.constant();
  o.computer.lambda_idle = sheet.wishes.idle_mixture.si();
  o.computer.lambda_cruise = sheet.wishes.cruise_mixture.si();
  o.computer.lambda_full = sheet.wishes.full_throttle_mixture.si();
  return sim::drive(car.truth, table, o);
}

// Root mean square of ln(table/truth) over the nodes with evidence weights: how far the table was
// off where it was driven.
double off_by(const car::Surface& table, const InventedCar& car, const car::Evidence& e) {
  double sum = 0;
  double weight = 0;
  for (std::size_t iy = 0; iy < e.grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < e.grid.x.size(); ++ix) {
      const double w = e.seconds[e.grid.index(ix, iy)];
      const double truth =
          sim::true_ve(car.truth, rpm(e.grid.x[ix]), absolute(e.grid.y[iy] * pascal));
      const double error = std::log(table.at(e.grid.x[ix], e.grid.y[iy]) / truth);
      sum += w * error * error;
      weight += w;
    }
  }
  return weight > 0 ? std::sqrt(sum / weight) : NAN;
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
  const InventedCar car = invent(sheet, o.seed);

  step(o.common, "new: the parts and the table as found");
  service::NewRequest fresh;
  fresh.job = job;
  fresh.sheet_toml = demo_sheet();
  fresh.sheet_name = "street_v8.toml";
  fresh.who = who();
  service::TableIn found;
  found.text = car::write_table(car.found, car::TableWhat::ve, car::TextForm::tsv, UnitSystem::us);
  found.name = "table as found";
  fresh.ve_as_found = std::move(found);
  FW_CHECK(say(o.common, service::new_job(fresh)));

  car::Surface in_unit = car.found;
  double before = NAN;
  double after = NAN;
  service::EstimateReply last;
  for (int round = 1; round <= 2; ++round) {
    const std::string name = fmt::format("drive_{}.csv", round);
    step(o.common, fmt::format("add: {:.0f} minutes on the road, revision {} in the unit", kMinutes,
                               round - 1));
    progress("driving");
    std::string bytes = drive(car, in_unit, sheet, o.seed * 100 + static_cast<unsigned>(round));
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
    if (round == 1) before = off_by(car.found, car, *last.evidence);
    step(o.common, "accept");
    FW_CHECK(say(o.common, service::accept({job, "", who()})));
    in_unit = *last.proposed;
    after = off_by(in_unit, car, *last.evidence);
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
  fmt::print("The VE table of revision 2 is in {}, ready to paste.\n", out);
  fmt::print(
      "The invented car's truth, which the estimate never saw: the table was {:.1f} % off where it "
      "was driven, "
      "and is {:.1f} % off now.\n\n",
      100 * before, 100 * after);
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
