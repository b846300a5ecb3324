// The tree keeps to the habits of the house; and each check does notice when a text does not.
#include "habits.h"

#include <gtest/gtest.h>

#include <functional>

namespace fuelwright::house {
namespace {

const std::vector<SourceFile>& the_tree() {
  static const std::vector<SourceFile> kTree = read_tree(FUELWRIGHT_SOURCE_DIR);
  return kTree;
}

std::vector<Breach> in_every_file(
    const std::function<std::vector<Breach>(const SourceFile&)>& check) {
  EXPECT_GT(the_tree().size(), 30u) << "hardly a file was read: is this the tree?";
  std::vector<Breach> all;
  for (const SourceFile& file : the_tree()) {
    const auto found = check(file);
    all.insert(all.end(), found.begin(), found.end());
  }
  return all;
}

TEST(Habits, EveryFormulasTagInTheCodeStandsOnATheoryPage) {
  const auto found = unknown_tags(the_tree());
  EXPECT_TRUE(found.empty()) << list(found);
}

TEST(Habits, NoFileNamesAPathOfOneMachine) {
  const auto found = in_every_file(machine_paths);
  EXPECT_TRUE(found.empty()) << list(found);
}

TEST(Habits, NoFileCarriesAMarkOfUnfinishedWork) {
  const auto found = in_every_file(unfinished_marks);
  EXPECT_TRUE(found.empty()) << list(found);
}

TEST(Habits, NoFileIsTooLongToRead) {
  const auto found = in_every_file(too_long);
  EXPECT_TRUE(found.empty()) << list(found);
}

TEST(Habits, EveryModuleHasAShortReadme) {
  const auto found = module_readmes(the_tree());
  EXPECT_TRUE(found.empty()) << list(found);
}

TEST(Habits, EveryHeaderOpensWithWhatItIs) {
  const auto found = in_every_file(header_opening);
  EXPECT_TRUE(found.empty()) << list(found);
}

TEST(HabitChecks, TagsAreFoundAloneAndInListsAndOtherBracketsAreNone) {
  const auto names = [](std::string_view text) {
    std::string all;
    for (const Tag& tag : tags_of(text)) all += tag.name + "@" + std::to_string(tag.line) + " ";
    return all;
  };
  EXPECT_EQ(names("return x;  // (air.1)\n\ny = 2;  // (fuel_film.12b)\n"),
            "air.1@1 fuel_film.12b@3 ");
  EXPECT_EQ(names("see (air.1, air.2) and (fuel.1 to fuel.4)"),
            "air.1@1 air.2@1 fuel.1@1 fuel.4@1 ");
  EXPECT_EQ(names("f(x.y) f(3.5) (e.g. 1) (v1.2) g(a.b1) (see air.1)"), "");
}

TEST(HabitChecks, ATagWithoutAPageIsABreach) {
  const std::vector<SourceFile> tree{{"docs/theory/air.md", "m = p V (air.1)\n"},
                                     {"README.md", "(air.2)\n"},
                                     {"src/car/air.cc", "// (air.1)\n// (air.2)\n"}};
  const auto found = unknown_tags(tree);
  ASSERT_EQ(found.size(), 1u) << list(found);
  EXPECT_EQ(found[0].text(), "src/car/air.cc:2: (air.2) stands on no page of docs/theory");
}

TEST(HabitChecks, APathOfOneMachineIsABreachAndAPathInsideTheTreeIsNone) {
  const std::string home = std::string("/ho") + "me/";
  const std::string beside = std::string("../sha") + "red/data";
  EXPECT_EQ(machine_paths({"a.md", "one\nlies in " + home + "ann\n"}).at(0).line, 2);
  EXPECT_EQ(machine_paths({"a.cc", "open(\"" + home + "ann\")"}).size(), 1u);
  EXPECT_EQ(machine_paths({"a.cc", "open(\"" + beside + "\")"}).size(), 1u);
  EXPECT_EQ(machine_paths({"a.cc", std::string("\"C:") + "\\data\""}).size(), 1u);
  EXPECT_TRUE(machine_paths({"a.cc", "docs" + home + "page.md, web/ho" + "me.ts"}).empty());
  EXPECT_TRUE(machine_paths({".ci/run", "cd " + beside}).empty());
  EXPECT_EQ(machine_paths({".ci/run", "cd " + home}).size(), 1u);
}

TEST(HabitChecks, AMarkOfUnfinishedWorkIsABreachAndALongerWordIsNone) {
  const std::string mark = std::string("TO") + "DO";
  EXPECT_EQ(unfinished_marks({"a.cc", "x();  // " + mark + ": later\n"}).size(), 1u);
  EXPECT_EQ(unfinished_marks({"a.cc", mark}).size(), 1u);
  EXPECT_TRUE(unfinished_marks({"a.cc", mark + "S K" + mark + " to do\n"}).empty());
}

TEST(HabitChecks, AFileIsTooLongFromOneLineAboveTheBound) {
  std::string text;
  for (int i = 0; i < kMostLines; ++i) text += "x\n";
  EXPECT_TRUE(too_long({"src/a.cc", text}).empty());
  EXPECT_EQ(too_long({"src/a.cc", text + "x\n"}).size(), 1u);
  EXPECT_EQ(too_long({"tools/build", text + "x"}).size(), 1u);
  EXPECT_TRUE(too_long({"examples/drive.csv", text + "x\n"}).empty());
  EXPECT_TRUE(too_long({"LICENSE", text + "x\n"}).empty());
}

TEST(HabitChecks, AModuleWithoutAReadmeOrWithALongOneIsABreach) {
  const SourceFile cmake{"src/car/fuel/CMakeLists.txt", "fuelwright_module(fuel)\n"};
  const auto with = [&](const std::string& readme) {
    return module_readmes({cmake, {"src/car/fuel/README.md", readme}}).size();
  };
  EXPECT_EQ(module_readmes({cmake}).size(), 1u);
  EXPECT_EQ(with("Answers: x.\nNot here: y.\n"), 0u);
  EXPECT_EQ(with("Answers: x.\n"), 1u);
  EXPECT_EQ(with("Not here: y.\n" + std::string(kMostReadmeLines, '\n')), 1u);
  EXPECT_EQ(module_readmes({{"src/car/CMakeLists.txt", "add_subdirectory(fuel)\n"}}).size(), 0u)
      << "no module";
}

TEST(HabitChecks, AHeaderMustOpenWithACommentAndBeReadOnce) {
  EXPECT_TRUE(header_opening({"a.h", "/// What it is.\n#pragma once\n"}).empty());
  EXPECT_EQ(header_opening({"a.h", "#pragma once\n"}).size(), 1u);
  EXPECT_EQ(header_opening({"a.h", "/// What it is.\nint x;\n"}).size(), 1u);
}

}  // namespace
}  // namespace fuelwright::house
