// "sim and advice share no function and no constant for film, exhaust, sensor or air": looked at in
// what the linker sees (nm -C over the libraries) and in the headers that both include.
//
// An estimate that agrees with a truth made by the same function proves nothing. What both may use
// is on the lists below, each with the reason why it is none of the four, or why it may be.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <map>

#include "source_tree.h"
#include "symbols.h"

namespace fuelwright::house {
namespace {

struct Allowed {
  std::string_view what;  ///< a name and all below it, a library, or the beginning of a path
  std::string_view because;
};

/// Names that object files of sim and of advice may both define or use.
constexpr Allowed kNames[] = {
    {"fuelwright::Bug", "base: a broken contract"},
    {"fuelwright::broken_contract", "base: a broken contract"},
    {"fuelwright::Error", "base: what is wrong with the world"},
    {"fuelwright::Result<", "base: the same"},
    {"fuelwright::parse_number", "base: numbers with units, as people write them"},
    {"fuelwright::format", "base: numbers with units, for people"},
    {"fuelwright::car::Sheet", "the sheet is what both have been told"},
    {"fuelwright::car::Known<", "the same"},
    {"fuelwright::car::List", "the same"},
    {"fuelwright::car::table_grid", "the same: where the owner wants the nodes of his tables"},
    {"fuelwright::car::Axis", "an axis holds numbers; it says nothing of engines"},
    {"fuelwright::car::Grid", "the same"},
    {"fuelwright::car::NodeShares", "the same"},
    {"fuelwright::car::OperatingPoint", "a place on a table"},
    {"fuelwright::car::Surface",
     "a surface between its nodes is what a table means to every unit, no model of air"},
    {"fuelwright::car::Curve", "the same, over one axis"},
    {"fuelwright::car::Calibration", "a calibration is what passes between the two"},
    {"fuelwright::car::validate", "the same: that it can be one"},
    {"fuelwright::car::MixtureScale", "the constant of a gauge, as the sheet states it"},
    {"fuelwright::physics::engine_model",
     "air: a sheet's parts as an engine that can be computed; the "
     "truth's sheet has other parts"},
    {"fuelwright::physics::best_instruction_set", "which instructions this machine has"},
    {"fuelwright::physics::surroundings_of", "the weather that the sheet states"},
};

/// Libraries that both may be linked with, directly or through others.
constexpr Allowed kLibraries[] = {
    {"base/", "results and contracts"},
    {"base_units/", "units"},
    {"base_numerics/", "interpolation, random numbers: mathematics"},
    {"car_build/", "the sheet is what both have been told"},
    {"car_fuel/", "fuels by their composition, which the sheet states; scales of gauges"},
    {"car_tables/", "tables and calibrations are what passes between the two"},
    {"physics_breathing/",
     "air: gas exchange of parts. The truth takes the whole-engine form for parts that nobody is "
     "told, times an error that the model does not contain; a prior is an ensemble of it"},
    {"physics_ensemble/sample.cc", "evenly spread random numbers: mathematics"},
    {"physics_ensemble/uncertain", "how far parts may differ from the sheet, for the same two"},
    {"car_plan/", "what a driver is asked to do: a plan made by one is driven by the other"},
};

/// Headers that both may include, directly or through others. What is inlined shows only here.
constexpr Allowed kHeaders[] = {
    {"base/", "units, results, contracts, numerics"},
    {"car/build/", "the sheet is what both have been told"},
    {"car/fuel/", "fuels by their composition, which the sheet states; scales of gauges"},
    {"car/tables/", "tables and calibrations are what passes between the two"},
    {"physics/breathing/breathing.h", "air: see kLibraries"},
    {"physics/breathing/unstated.h", "the same: what a sheet does not state of an engine"},
    {"physics/ensemble/uncertain.h", "the same: how far parts may differ from the sheet"},
    {"car/plan/", "what a driver is asked to do"},
};

template <std::size_t N>
bool on(const Allowed (&list)[N], std::string_view what) {
  return std::ranges::any_of(list, [what](const Allowed& a) { return what.starts_with(a.what); });
}

/// Making, copying, comparing and ending a value, which the compiler writes where it is needed.
bool keeps_a_value(const std::string& name) {
  const auto last = name.rfind("::");
  if (last == std::string::npos) return false;
  const std::string_view own = std::string_view(name).substr(last + 2);
  const std::string_view type = std::string_view(name).substr(0, last);
  return own.starts_with('~') || own == "operator=" || own == "operator==" ||
         type.ends_with("::" + std::string(own));
}

std::string output_of(const std::string& command) {
  std::string out;
  std::FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return out;
  std::array<char, 65536> buffer{};
  for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) {
    out.append(buffer.data(), n);
  }
  return pclose(pipe) == 0 ? out : std::string();
}

/// Of the libraries named in a file, "name path" a line.
std::vector<ObjectFile> objects_of(const char* list_file) {
  std::vector<ObjectFile> out;
  std::ifstream in(list_file);
  for (std::string name, path; in >> name >> path;) {
    auto objects = objects_in(name, output_of("'" FUELWRIGHT_NM "' -C '" + path + "'"));
    EXPECT_FALSE(objects.empty()) << path << " holds no object files, or nm cannot read it";
    std::ranges::move(objects, std::back_inserter(out));
  }
  return out;
}

Which in_group(std::string_view group) {
  return [prefix = std::string(group) + "_"](const ObjectFile& f) {
    return f.library.starts_with(prefix);
  };
}

TEST(Apart, SimAndAdviceLinkToTheSameNameOnlyWhereItIsNoneOfFilmExhaustSensorAndAir) {
  const auto all = objects_of(FUELWRIGHT_MODULE_LIST);
  for (const char* group : {"sim", "advice"}) {
    ASSERT_GT(std::ranges::count_if(all, in_group(group)), 5) << group;
  }
  for (const std::string& name : shared_names(all, in_group("sim"), in_group("advice"))) {
    EXPECT_TRUE(on(kNames, name) || keeps_a_value(name)) << name << " is used by sim and by advice";
  }
}

TEST(Apart, NothingThatEitherIsLinkedWithBringsTheOthersModels) {
  const auto all = objects_of(FUELWRIGHT_MODULE_LIST);
  const auto sim = linked_with(all, in_group("sim")), advice = linked_with(all, in_group("advice"));
  std::vector<std::string> both;
  std::ranges::set_intersection(sim, advice, std::back_inserter(both));
  ASSERT_GT(both.size(), 5u);
  for (const std::string& object : both) {
    EXPECT_TRUE(on(kLibraries, object)) << object << " is linked into sim and into advice";
  }
}

/// Headers below src/ that the files of a folder include, directly or through others; tests left
/// out.
std::set<std::string> headers_of(const std::map<std::string, std::string>& tree,
                                 const std::string& folder) {
  std::set<std::string> reached;
  std::vector<std::string> next;
  for (const auto& [path, text] : tree) {
    const bool fixture = path.find("/test_") != std::string::npos;
    if (lies_in(path, folder) && is_cpp(path) && !is_test(path) && !fixture) next.push_back(path);
  }
  EXPECT_GT(next.size(), 15u) << folder;
  while (!next.empty()) {
    const std::string path = next.back();
    next.pop_back();
    for (const Include& include : includes_of(tree.at(path))) {
      const std::string beside = path.substr(0, path.rfind('/') + 1) + include.what;
      for (const std::string& at : {"src/" + include.what, beside}) {
        if (include.angle || !tree.contains(at)) continue;
        if (reached.insert(at).second) next.push_back(at);
        break;
      }
    }
  }
  return reached;
}

TEST(Apart, TheHeadersThatBothIncludeHoldNoModel) {
  std::map<std::string, std::string> tree;
  for (const SourceFile& f : read_tree(FUELWRIGHT_SOURCE_DIR)) tree.emplace(f.path, f.text);
  const auto sim = headers_of(tree, "src/sim/virtual_car"), advice = headers_of(tree, "src/advice");
  std::vector<std::string> both;
  std::ranges::set_intersection(sim, advice, std::back_inserter(both));
  ASSERT_GT(both.size(), 5u);
  for (const std::string& header : both) {
    EXPECT_TRUE(on(kHeaders, include_path(header)))
        << header << " is included by sim and by advice";
  }
}

/// What the checks above would complain of if `truth` were the simulator and `estimator` an
/// estimator.
struct Complaints {
  std::vector<std::string> names, objects;
};
Complaints complaints(const std::string& truth, const std::string& estimator) {
  const auto all = objects_of(FUELWRIGHT_FIXTURE_LIST);
  const auto is = [](const std::string& library) {
    return [library](const ObjectFile& f) { return f.library == library; };
  };
  Complaints out;
  for (const std::string& name : shared_names(all, is(truth), is(estimator))) {
    if (!on(kNames, name) && !keeps_a_value(name)) out.names.push_back(name);
  }
  const auto one = linked_with(all, is(truth)), other = linked_with(all, is(estimator));
  std::ranges::set_intersection(one, other, std::back_inserter(out.objects));
  std::erase_if(out.objects, [](const std::string& object) { return on(kLibraries, object); });
  return out;
}

TEST(Apart, AFilmFunctionAndAFilmConstantThatBothUseAreComplainedOf) {
  const Complaints c = complaints("truth", "estimator");
  EXPECT_THAT(c.names, testing::ElementsAre("fuelwright::invented::kFilmTime_s",
                                            "fuelwright::invented::left_on_the_wall"));
  EXPECT_THAT(c.objects, testing::ElementsAre("film/film.cc.o"));
}

TEST(Apart, AFilmTakenByAGoBetweenIsComplainedOf) {
  const Complaints c = complaints("truth", "sly_estimator");
  EXPECT_TRUE(c.names.empty()) << "neither names it itself";
  EXPECT_THAT(c.objects, testing::ElementsAre("film/film.cc.o"));
}

}  // namespace
}  // namespace fuelwright::house
