DROP TABLE photo;
DROP TABLE content;
DROP FUNCTION refuse_content_in_use();
DROP DOMAIN photo_type;
