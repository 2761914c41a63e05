<?php
// Reads a calendar with sabre/vobject and prints its entries and every problem found, as JSON.
require 'Sabre/VObject/autoload.php';

$calendar = Sabre\VObject\Reader::read(file_get_contents('php://stdin'));
$problems = array_map(fn ($problem) => $problem['message'], $calendar->validate());
$entries = [];
foreach ($calendar->VEVENT ?? [] as $event) {
    $entries[(string) $event->UID] = [
        'start' => $event->DTSTART->getDateTime()->getTimestamp(),
        'is_day' => !$event->DTSTART->hasTime(),
        'summary' => (string) $event->SUMMARY,
        'location' => (string) $event->LOCATION,
        'status' => (string) $event->STATUS,
    ];
}
$answer = ['entries' => (object) $entries, 'problems' => $problems];
echo json_encode($answer, JSON_THROW_ON_ERROR | JSON_INVALID_UTF8_SUBSTITUTE);
